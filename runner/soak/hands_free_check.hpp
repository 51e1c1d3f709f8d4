/// The part of the rig check that needs no hands.
#pragma once

#include "analysis/soak/reaction.hpp"
#include "instruments/capture.hpp"

namespace afterload::runner {

/// Looks at a record of a second in which nothing was driven: the card recorded without a gap, gave
/// more than one and the same sample, and nothing above `most` came in. A server that stands for a
/// card (`stand_in`) has no noise of its own: zeros are its silence.
[[nodiscard]] analysis::RigChecked hands_free_check(const instruments::Captured& silence,
                                                    VoltsRms most, bool stand_in);

}  // namespace afterload::runner
