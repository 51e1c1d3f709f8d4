/// A record on its way to figures: every channel in volts, fitted once for all the figures asked of
/// it.
#pragma once

#include "analysis/measure.hpp"
#include "analysis/measure_multitone.hpp"
#include "analysis/quiet_record.hpp"
#include "analysis/swept_response.hpp"
#include "analysis/two_tone.hpp"
#include "runner/evaluation/evaluate.hpp"

#include <array>
#include <memory>
#include <optional>
#include <string>
#include <vector>

namespace afterload::runner {

struct ChannelOfRecord {
    Waveform waveform;
    // What was played decides which of these there is; a channel that was not driven has none.
    std::optional<analysis::ToneFit> fit;                ///< of the channel's own tone
    std::optional<analysis::TwoToneFit> pair;            ///< of two tones
    std::optional<analysis::SweptResponse> swept;        ///< of a sweep
    std::shared_ptr<const analysis::QuietRecord> quiet;  ///< of silence
    std::string failure;                                 ///< why there is no fit
    double drive = 0.0;                                  ///< open-circuit V rms; 0: not driven
    analysis::BenchShare bench;
};

/// A multitone is one fit over both channels.
struct MultitoneOfRecord {
    std::vector<WaveformView> views;
    analysis::MultitoneSource source;
    std::optional<analysis::MultitoneFit> fit;
    analysis::Alignment alignment;
    std::string failure;  ///< why there is no fit
};

struct OpenRecord {
    const MeasuredRecord* measured = nullptr;
    std::array<ChannelOfRecord, 2> channels;
    std::shared_ptr<const MultitoneOfRecord> multitone;  ///< null for any other signal
    Conditions conditions;                               ///< as driven, with the nominal frequency

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
