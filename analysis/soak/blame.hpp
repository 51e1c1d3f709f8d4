/// Who is to blame for an event, and when that may be said plainly.
#pragma once

#include "analysis/watch_event.hpp"

#include <string>

namespace afterload::analysis {

/// What the bench knows around an event. Everything false is the safe default: then nothing is
/// cleared.
struct BlameFacts {
    /// It came again when the unit stood at the same temperature (see event_pattern.hpp): a lead
    /// knows nothing of that.
    bool repeats_at_temperature = false;
    /// The rig check was made after it and passed.
    bool rig_check_passed = false;
    /// The lead was changed or moved to the other channel, and the event stayed with the unit.
    bool lead_changed_and_stayed = false;
    /// The mains voltage was read within a second of it.
    bool mains_watched = false;
    /// And stood within 2 % of what it was before.
    bool mains_steady = false;
    /// The unit was unplugged or switched off: mains watts near zero with the level.
    bool unit_removed = false;
    /// Whole samples went missing or stood twice in all channels right at its beginning or its end:
    /// what plays or records ran dry and went on elsewhere.
    bool timeline_moved = false;
};

struct Blamed {
    WatchEvent::Blame blame = WatchEvent::Blame::unit_or_lead;
    std::string because;  ///< one line, for a person
};

/// What the card or the converter does is the rig's: gap, repeat, frozen, clipping at the
/// converter's end, anything with the timeline broken, a change in all channels right beside which
/// it broke. One channel with the timeline intact is unit_or_lead; all at once unit_or_mains. A
/// plain "unit" is said
///
/// of one channel  when the lead is cleared: changed and the event stayed, or the event repeats at
///                 the same temperature and the rig check passed after it;
/// of all          when the lead is cleared in the same way (both may hang on one plug), the mains
///                 was watched and stood still, and the rig check passed after it.
///
/// Where the unit was removed nothing is the unit's: all channels stay unit_or_mains.
[[nodiscard]] Blamed blamed(const WatchEvent& event, const BlameFacts& facts);

}  // namespace afterload::analysis
