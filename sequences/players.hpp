/// Who plays a step on a bench with a card and a generator: what each of them can.
///
/// A generator on a wire gives one sine, the same on both channels, and runs on a clock of its own.
/// What needs more (a sweep, a multitone, two tones, a channel alone, a level for each channel)
/// comes from the card.
#pragma once

#include "sequences/bench_file.hpp"
#include "sequences/sequence.hpp"

#include <optional>
#include <string>

namespace afterload::sequences {

/// Why a generator cannot play a step, and where that stands.
struct NeedsCard {
    Place place;
    std::string what;  ///< "signal: multitone": ends a sentence that begins with the generator
    std::string advice;
};

/// Absent: a generator called `generator` can play all of `step`, or there is nothing to play.
[[nodiscard]] std::optional<NeedsCard> needs_card(const Step& step, const std::string& generator);

/// Does the generator beside the card play `step`? A soak is the card's, whose loop has no seam.
[[nodiscard]] bool generator_plays(const BenchFile& bench, const Step& step);

/// Level, impedance and distortion of what plays `step`.
[[nodiscard]] const SourceEntry& source_of(const BenchFile& bench, const Step& step);

}  // namespace afterload::sequences
