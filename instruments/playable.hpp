/// What a source can play at all: finite sines below half its rate, within its full scale.
#pragma once

#include "analysis/stimulus.hpp"
#include "instruments/failure.hpp"

#include <optional>
#include <string>

namespace afterload::instruments {

/// Why `instrument` cannot play `stimulus`: a `refused`; nothing if it can. Steady sounds that
/// would exceed the full scale only by the sum of their amplitudes are looked at sample by sample.
[[nodiscard]] std::optional<BenchFailure> cannot_play(const Stimulus& stimulus, SampleRate rate,
                                                      VoltsPeak full_scale,
                                                      const std::string& instrument);

/// Why a generator cannot play `stimulus`, which is not silent: a generator gives one steady sine,
/// the same on both channels, of any frequency of this trade.
[[nodiscard]] std::optional<BenchFailure> generator_cannot_play(const Stimulus& stimulus,
                                                                VoltsPeak full_scale,
                                                                const std::string& instrument);

}  // namespace afterload::instruments
