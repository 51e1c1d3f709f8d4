/// A record on its way to figures: every channel in volts, fitted once for all the figures asked of
/// it.
#pragma once

#include "analysis/measure.hpp"
#include "analysis/quiet_record.hpp"
#include "runner/evaluation/evaluate.hpp"

#include <array>
#include <memory>
#include <optional>
#include <string>

namespace afterload::runner {

struct ChannelOfRecord {
    Waveform waveform;
    std::optional<analysis::ToneFit> fit;                ///< of the channel's own tone
    std::string failure;                                 ///< why there is no fit
    std::shared_ptr<const analysis::QuietRecord> quiet;  ///< of silence: transformed once for all
    double drive = 0.0;                                  ///< open-circuit V rms; 0: not driven
    analysis::BenchShare bench;
};

struct OpenRecord {
    const MeasuredRecord* measured = nullptr;
    std::array<ChannelOfRecord, 2> channels;
    Conditions conditions;  ///< as driven, with the nominal frequency

    /// `channel` is 1 (left) or 2 (right).
    [[nodiscard]] const ChannelOfRecord& of(int channel) const {
        return channels[static_cast<std::size_t>(channel) - 1];
    }
    [[nodiscard]] const DrivenAs& driven() const { return measured->stored.driven; }
};

[[nodiscard]] OpenRecord open_record(const MeasuredRecord& measured, const StepPath& path,
                                     const EvaluationContext& context);

/// The channel's own tone; of a channel that shows none, what it holds at the frequency that was
/// played: a dead channel has a level, too.
[[nodiscard]] std::optional<analysis::ToneFit> fit_or_buried(const OpenRecord& opened, int channel);

}  // namespace afterload::runner
