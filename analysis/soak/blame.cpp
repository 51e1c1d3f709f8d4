#include "analysis/soak/blame.hpp"

namespace afterload::analysis {
namespace {

using Kind = WatchEvent::Kind;
using Blame = WatchEvent::Blame;

bool of_the_card(const WatchEvent& event) {
    return event.kind == Kind::gap || event.kind == Kind::repeat || event.kind == Kind::frozen ||
           event.kind == Kind::clipping || !event.timeline_intact;
}

}  // namespace

Blamed blamed(const WatchEvent& event, const BlameFacts& facts) {
    if (event.kind == Kind::clipping) {
        return {Blame::rig, "the converter stood at its end: choose a higher range"};
    }
    if (event.kind == Kind::frozen) {
        return {Blame::rig, "the source or the card repeated itself"};
    }
    if (of_the_card(event)) {
        return {Blame::rig, "whole samples are missing or stand twice in all channels"};
    }
    if (event.channel == 0) {
        if (facts.timeline_moved) {
            return {Blame::rig,
                    "all channels at once, and whole samples are missing or stand twice beside it: "
                    "source or card ran dry"};
        }
        if (facts.unit_removed) {
            return {Blame::unit_or_mains, "the unit was unplugged or switched off"};
        }
        if (!facts.mains_watched) {
            return {Blame::unit_or_mains, "all channels at once; the mains was not watched"};
        }
        if (!facts.mains_steady) {
            return {Blame::unit_or_mains, "all channels at once, and the mains moved with them"};
        }
        if (!facts.rig_check_passed) {
            return {Blame::unit_or_mains, "all channels at once; the rig was not checked after it"};
        }
        if (!facts.repeats_at_temperature && !facts.lead_changed_and_stayed) {
            return {
                Blame::unit_or_mains,
                "all channels at once; the mains stood still: the unit, or a plug that all leads "
                "go through"};
        }
        return {Blame::unit,
                "all channels at once, not by their leads; the mains stood still and the rig check "
                "passed after it"};
    }
    if (facts.lead_changed_and_stayed) {
        return {Blame::unit, "one channel alone; with another lead it stayed with the unit"};
    }
    if (facts.repeats_at_temperature && facts.rig_check_passed) {
        return {Blame::unit,
                "one channel alone, again at the same temperature of the unit, and the "
                "rig check passed after it"};
    }
    return {
        Blame::unit_or_lead,
        facts.repeats_at_temperature
            ? "one channel alone, again at the same temperature; the rig was not checked after it"
            : "one channel alone: move the lead to the other channel to tell them apart"};
}

}  // namespace afterload::analysis
