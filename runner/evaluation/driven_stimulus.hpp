/// What the source plays for a record, and what the analysis knows of it: both follow from how the
/// record was driven alone, so that a replay years later knows the same.
#pragma once

#include "analysis/multitone.hpp"
#include "analysis/multitone_source.hpp"
#include "analysis/stimulus.hpp"
#include "analysis/sweep.hpp"
#include "analysis/waveform.hpp"
#include "runner/papers/driven_as.hpp"

#include <tl/expected.hpp>

#include <optional>
#include <string>

namespace afterload::runner {

/// Everything but tones and silence lasts for a time of its own.
struct DrivenStimulus {
    Stimulus stimulus;
    /// How long a record must be that holds all of it; zero where any part of it will do.
    Seconds whole;
};

/// As described in `driven`: each channel as high at its peaks as a sine of its drive. A sweep, a
/// rise and a multitone need their period, the two that cover a band their band.
/// `mains` keeps the tones of a multitone off its lines; `rate` is the card's.
[[nodiscard]] DrivenStimulus driven_stimulus(const DrivenAs& driven, SampleRate rate,
                                             std::optional<Hertz> mains);

/// The multitone that was played.
///
/// Fails   in one line: band and period hold no such signal.
[[nodiscard]] tl::expected<analysis::Multitone, std::string> multitone_of(
    const DrivenAs& driven, SampleRate rate, std::optional<Hertz> mains);

/// The same as the analysis knows it: the tones of both source channels in volts peak.
[[nodiscard]] tl::expected<analysis::MultitoneSource, std::string> multitone_source_of(
    const DrivenAs& driven, SampleRate rate, std::optional<Hertz> mains);

/// Where everything lies in the sweep that was played.
[[nodiscard]] analysis::SweepPlan sweep_plan(const DrivenAs& driven);
/// The sweep with its pilots as source channel 0 or 1 was asked to play it, open-circuit volts at
/// the card's rate.
[[nodiscard]] Waveform sweep_played(const DrivenAs& driven, std::size_t channel, SampleRate rate);

/// By how much a rising tone rises within its period.
inline constexpr Gain rise_of_tone{6.0};

}  // namespace afterload::runner
