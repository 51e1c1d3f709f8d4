/// Words that stand in more than one kind of file.
#pragma once

#include "analysis/conditions.hpp"
#include "analysis/figure.hpp"
#include "sequences/reading.hpp"
#include "sequences/sequence.hpp"

#include <optional>

namespace afterload::sequences {

/// "thd_plus_noise": a name of the figure table (design, section 5).
[[nodiscard]] std::optional<FigureKind> read_figure_kind(Reading& reading, const Node& node);
/// left, right, both.
[[nodiscard]] std::optional<Channels> read_channels(Reading& reading, const Node& node);
/// A, none.
[[nodiscard]] std::optional<Weighting> read_weighting(Reading& reading, const Node& node);
[[nodiscard]] std::optional<Detector> read_detector(Reading& reading, const Node& node);
/// silence, tone, two_tones, multitone, sweep, rising_tone.
[[nodiscard]] std::optional<Signal> read_signal(Reading& reading, const Node& node);

}  // namespace afterload::sequences
