/// Two stimuli that differ in their level alone.
#pragma once

#include "analysis/stimulus.hpp"

namespace afterload {

/// Does `next` sound as `now` does, but for its level? Steady sines of the same frequencies and
/// phases, the very same samples going round: who plays `next` after `now` need not begin anew, and
/// its time counts on. Never where one of them is silent, or something in it comes to an end.
[[nodiscard]] bool same_sound(const Stimulus& now, const Stimulus& next);

}  // namespace afterload
