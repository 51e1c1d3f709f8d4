/// The one way out of everything that drives: mute, wait, let go of the load, most-attenuating
/// range.
///
/// Every end of a run passes here: done, failed, stopped, signal, exception, lost instrument.
#pragma once

#include "instruments/async.hpp"
#include "instruments/bench.hpp"

#include <string>
#include <vector>

namespace afterload::runner {

struct SafeState {
    bool muted = false;                 ///< the source said that it is silent
    bool released = false;              ///< the load relay said that it let go
    std::vector<std::string> failures;  ///< what did not answer, in words
    [[nodiscard]] bool safe() const { return muted; }
};

/// Makes the bench safe, whatever state it is in, and says how far it got.
///
/// The stimulus is muted first, with up to three attempts. The load is let go only when the source
/// is known to be silent and the output has had 0.3 s to die away: an amplifier with an output
/// transformer must never be driven open. Where the mute failed the load stays connected.
[[nodiscard]] instruments::Task<SafeState> make_safe(instruments::Bench& bench);

}  // namespace afterload::runner
