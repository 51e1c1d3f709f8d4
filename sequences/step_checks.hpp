/// What is well read but does not fit together within one step.
#pragma once

#include "sequences/reading.hpp"
#include "sequences/sequence.hpp"

namespace afterload::sequences {

/// Can a record of `signal` answer `figure`?
[[nodiscard]] bool answers(Signal signal, FigureKind figure);

/// Signal, level, frequencies, band and record against each other.
void check_signal(Reading& reading, const Node& node, const Step& step);

/// Each figure against what the step plays.
void check_figures(Reading& reading, const Node& node, const Step& step);

}  // namespace afterload::sequences
