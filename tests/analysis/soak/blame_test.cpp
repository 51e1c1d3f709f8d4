#include "analysis/soak/blame.hpp"

#include <gtest/gtest.h>

namespace afterload::analysis {
namespace {

using Blame = WatchEvent::Blame;
using Kind = WatchEvent::Kind;

WatchEvent event_of(Kind kind, int channel, bool timeline_intact = true) {
    WatchEvent event;
    event.kind = kind;
    event.channel = channel;
    event.timeline_intact = timeline_intact;
    return event;
}

TEST(Blame, OfASlipAndOfTheConverterIsTheRigsWhateverElseIsKnown) {
    BlameFacts all;
    all.repeats_at_temperature = all.rig_check_passed = all.lead_changed_and_stayed = true;
    all.mains_watched = all.mains_steady = true;
    EXPECT_EQ(blamed(event_of(Kind::gap, 0, false), all).blame, Blame::rig);
    EXPECT_EQ(blamed(event_of(Kind::repeat, 0, false), all).blame, Blame::rig);
    EXPECT_EQ(blamed(event_of(Kind::frozen, 0, false), all).blame, Blame::rig);
    EXPECT_EQ(blamed(event_of(Kind::clipping, 1), all).blame, Blame::rig);
}

TEST(Blame, OfAllChannelsIsTheRigsWhereTheTimelineBrokeBesideIt) {
    BlameFacts facts;
    facts.mains_watched = facts.mains_steady = facts.rig_check_passed = true;
    facts.repeats_at_temperature = true;
    EXPECT_EQ(blamed(event_of(Kind::dropout, 0), facts).blame, Blame::unit);
    facts.timeline_moved = true;
    EXPECT_EQ(blamed(event_of(Kind::dropout, 0), facts).blame, Blame::rig);
    // A card loses the samples of both channels: one alone is another matter.
    facts.repeats_at_temperature = false;
    EXPECT_EQ(blamed(event_of(Kind::dropout, 1), facts).blame, Blame::unit_or_lead);
}

TEST(Blame, OfOneChannelIsUnitOrLeadUntilTheLeadIsCleared) {
    const WatchEvent event = event_of(Kind::dropout, 1);
    EXPECT_EQ(blamed(event, {}).blame, Blame::unit_or_lead);
    BlameFacts facts;
    facts.rig_check_passed = true;  // the lead between unit and card is not in it
    EXPECT_EQ(blamed(event, facts).blame, Blame::unit_or_lead);
    facts = {};
    facts.repeats_at_temperature = true;
    EXPECT_EQ(blamed(event, facts).blame, Blame::unit_or_lead);
    facts.rig_check_passed = true;
    EXPECT_EQ(blamed(event, facts).blame, Blame::unit);
    facts = {};
    facts.lead_changed_and_stayed = true;
    EXPECT_EQ(blamed(event, facts).blame, Blame::unit);
}

TEST(Blame, OfAllChannelsIsUnitOrMainsUntilTheMainsIsCleared) {
    const WatchEvent event = event_of(Kind::level, 0);
    EXPECT_EQ(blamed(event, {}).blame, Blame::unit_or_mains);
    BlameFacts facts;
    facts.mains_watched = true;
    facts.rig_check_passed = true;
    EXPECT_EQ(blamed(event, facts).blame, Blame::unit_or_mains);  // the mains moved
    facts.mains_steady = true;
    EXPECT_EQ(blamed(event, facts).blame, Blame::unit_or_mains);  // both leads on one plug
    facts.repeats_at_temperature = true;
    EXPECT_EQ(blamed(event, facts).blame, Blame::unit);
    facts.rig_check_passed = false;
    EXPECT_EQ(blamed(event, facts).blame, Blame::unit_or_mains);
    facts.rig_check_passed = true;
    facts.unit_removed = true;
    EXPECT_EQ(blamed(event, facts).blame, Blame::unit_or_mains);
}

TEST(Blame, SaysWhy) {
    EXPECT_FALSE(blamed(event_of(Kind::level, 1), {}).because.empty());
    EXPECT_FALSE(blamed(event_of(Kind::level, 0), {}).because.empty());
}

}  // namespace
}  // namespace afterload::analysis
