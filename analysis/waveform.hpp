/// Calibrated samples: volts at the unit's terminals, with their sample rate.
#pragma once

#include "analysis/quantity.hpp"

#include <cstdint>
#include <span>
#include <string>
#include <vector>

namespace afterload {

/// One channel of a record, borrowed. Samples are instantaneous volts at the unit's terminals.
struct WaveformView {
    std::span<const double> volts;
    SampleRate rate;
};

/// One channel of a record, owned.
struct Waveform {
    std::vector<double> volts;
    SampleRate rate;

    [[nodiscard]] WaveformView view() const { return {volts, rate}; }
    // A waveform stands wherever a view is read.
    operator WaveformView() const { return view(); }  // NOLINT(google-explicit-constructor)
};

/// Calibration of one record channel.
struct ChannelCalibration {
    std::string output;    ///< which unit output it senses: "left", "right"
    VoltsPeak full_scale;  ///< volts at the unit's terminals at positive digital full scale
};

/// What the card gave, exactly as it gave it, and the calibration that turns it into volts.
///
/// Integers are right-aligned: `bits` = 24 means the range -2^23 … 2^23 - 1. All channels have one
/// length. This is what a run folder stores, so that a replay reads exactly what was analysed.
struct Record {
    SampleRate rate;
    int bits = 24;
    std::vector<std::vector<std::int32_t>> channels;
    std::vector<ChannelCalibration> calibration;  ///< one a channel

    [[nodiscard]] Frames length() const {
        return Frames{channels.empty() ? 0 : static_cast<std::int64_t>(channels.front().size())};
    }
};

/// Channel `index` (from 0) of `record` in volts. `index` must exist.
[[nodiscard]] Waveform calibrated(const Record& record, std::size_t index);

}  // namespace afterload
