#include "analysis/soak/reaction.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <limits>

namespace afterload::analysis {
namespace {

using Do = Decision::Kind;
using News = BenchNews::Kind;
using State = Reactions::State;
using testing::ElementsAre;
using testing::IsEmpty;

std::vector<Do> kinds(const std::vector<Decision>& decisions) {
    std::vector<Do> result;
    for (const Decision& decision : decisions) {
        result.push_back(decision.kind);
    }
    return result;
}

struct Soak {
    Reactions reactions;
    double now_s = 0.0;
    explicit Soak(ReactionSettings settings = {}) : reactions{std::move(settings)} {}
    std::vector<Do> see(const Observation& observation, double after_s = 0.1) {
        now_s += after_s;
        return kinds(reactions.observe(Seconds{now_s}, observation));
    }
};

BenchNews news(News kind) {
    return {kind, "seen by a test"};
}

SoakEvent event(WatchEvent::Kind kind, std::uint64_t id, double size, bool intact = true) {
    SoakEvent result;
    result.id = id;
    result.seen.kind = kind;
    result.seen.channel = intact ? 1 : 0;
    result.seen.size = size;
    result.seen.timeline_intact = intact;
    return result;
}

TemperatureFinding too_hot(TemperatureFinding::Kind kind) {
    TemperatureFinding finding;
    finding.kind = kind;
    finding.weight = TemperatureFinding::Weight::over_temperature;
    finding.what = "sink: too hot";
    return finding;
}

TEST(Reactions, FlagADriftAndDriveOn) {
    Soak soak;
    EXPECT_THAT(soak.see(Measured{SoakQuantity::level_drift, 1, 0.05}), IsEmpty());
    EXPECT_THAT(soak.see(Measured{SoakQuantity::level_drift, 1, 0.12}), ElementsAre(Do::flag));
    // Once, as long as it lasts; again when it came back.
    EXPECT_THAT(soak.see(Measured{SoakQuantity::level_drift, 1, 0.13}), IsEmpty());
    EXPECT_THAT(soak.see(Measured{SoakQuantity::level_drift, 2, 0.13}), ElementsAre(Do::flag));
    EXPECT_THAT(soak.see(Measured{SoakQuantity::level_drift, 1, 0.05}), IsEmpty());
    EXPECT_THAT(soak.see(Measured{SoakQuantity::level_drift, 1, 0.12}), ElementsAre(Do::flag));
    EXPECT_EQ(soak.reactions.state(), State::driving);
}

TEST(Reactions, HoldOnceAndTryAgainAfterARigCheckThatPassed) {
    Soak soak;
    EXPECT_THAT(soak.see(news(News::capture_lost)), ElementsAre(Do::drive_off));
    EXPECT_EQ(soak.reactions.state(), State::held);
    EXPECT_THAT(soak.see(DriveIsOff{}), ElementsAre(Do::check_rig));
    EXPECT_EQ(soak.reactions.state(), State::checking);
    EXPECT_THAT(soak.see(RigChecked{true, ""}), ElementsAre(Do::resume));
    EXPECT_EQ(soak.reactions.state(), State::driving);
    // The second time is the last.
    EXPECT_THAT(soak.see(news(News::capture_lost)), ElementsAre(Do::drive_off, Do::end));
    EXPECT_EQ(soak.reactions.state(), State::stopped);
    EXPECT_FALSE(soak.reactions.refusal());
}

TEST(Reactions, StopWhenTheRigCheckOfAHoldFails) {
    Soak soak;
    soak.see(news(News::source_lost));
    soak.see(DriveIsOff{});
    EXPECT_THAT(soak.see(RigChecked{false, "no loop"}), ElementsAre(Do::end));
    EXPECT_EQ(soak.reactions.state(), State::stopped);
}

TEST(Reactions, StopWhenTheRigCheckOfAHoldDoesNotEnd) {
    Soak soak;
    soak.see(news(News::source_lost));
    soak.see(DriveIsOff{});
    EXPECT_THAT(soak.see(Tick{}, 121.0), ElementsAre(Do::end));
}

TEST(Reactions, KillWhenTheDriveThatWasToldToBeOffIsNot) {
    Soak soak;
    soak.see(news(News::capture_lost));
    EXPECT_THAT(soak.see(Tick{}, 0.6), ElementsAre(Do::drive_off, Do::mains_off, Do::end));
    EXPECT_EQ(soak.reactions.state(), State::killed);
}

TEST(Reactions, KillForWhateverCanBurn) {
    for (const News kind : {News::drive_not_off, News::load_open, News::load_hot, News::smoke,
                            News::ground_fault, News::contactor_open, News::guardian_lost}) {
        Soak soak;
        EXPECT_THAT(soak.see(news(kind)), ElementsAre(Do::drive_off, Do::mains_off, Do::end))
            << name(kind);
        EXPECT_TRUE(soak.reactions.refusal());
    }
    for (const auto kind : {TemperatureFinding::Kind::hot, TemperatureFinding::Kind::runaway,
                            TemperatureFinding::Kind::dead, TemperatureFinding::Kind::frozen}) {
        Soak soak;
        EXPECT_THAT(soak.see(too_hot(kind)), ElementsAre(Do::drive_off, Do::mains_off, Do::end));
    }
    for (const Measured& measured : {Measured{SoakQuantity::offset, 1, 0.25},
                                     Measured{SoakQuantity::mains_power_ratio, 0, 1.3},
                                     Measured{SoakQuantity::mains_power_fall, 0, 0.6},
                                     Measured{SoakQuantity::quiescent_ratio, 2, 1.5}}) {
        Soak soak;
        EXPECT_THAT(soak.see(measured), ElementsAre(Do::drive_off, Do::mains_off, Do::end))
            << name(measured.quantity);
    }
}

TEST(Reactions, RestartAfterAKillOnlyWhenAPersonEnteredACause) {
    Soak soak;
    soak.see(news(News::load_hot));
    ASSERT_TRUE(soak.reactions.refusal());
    EXPECT_THAT(soak.see(RigChecked{true, ""}), IsEmpty());
    EXPECT_THAT(soak.see(DriveIsOff{}), IsEmpty());
    EXPECT_THAT(soak.see(CauseEntered{"  ", "M."}), ElementsAre(Do::note));
    EXPECT_TRUE(soak.reactions.refusal());
    EXPECT_THAT(soak.see(CauseEntered{"fan of the load unplugged", "M."}),
                ElementsAre(Do::allow_restart));
    EXPECT_FALSE(soak.reactions.refusal());
    EXPECT_EQ(soak.reactions.cause(), "fan of the load unplugged");
    EXPECT_EQ(soak.reactions.state(), State::killed);  // nothing drives by itself
}

TEST(Reactions, KillFromEveryState) {
    for (int state = 0; state < 4; ++state) {
        Soak soak;
        if (state >= 1 && state <= 2) {
            soak.see(news(News::capture_lost));
        }
        if (state == 2) {
            soak.see(DriveIsOff{});
        }
        if (state == 3) {
            soak.see(TimeIsUp{});
        }
        const auto done = soak.see(news(News::smoke));
        EXPECT_THAT(done, testing::Contains(Do::mains_off)) << state;
        EXPECT_EQ(soak.reactions.state(), State::killed);
    }
}

TEST(Reactions, FlagASingleSlipAndHoldWhenSlipsComeOften) {
    Soak soak;
    EXPECT_THAT(soak.see(event(WatchEvent::Kind::gap, 1, 256, false)), ElementsAre(Do::flag));
    EXPECT_THAT(soak.see(event(WatchEvent::Kind::gap, 2, 256, false), 1000.0),
                ElementsAre(Do::flag));
    EXPECT_THAT(soak.see(event(WatchEvent::Kind::gap, 3, 256, false), 10.0), ElementsAre(Do::flag));
    EXPECT_THAT(soak.see(event(WatchEvent::Kind::gap, 4, 256, false), 10.0),
                ElementsAre(Do::drive_off));
}

TEST(Reactions, HoldAtOnceWhenPlaybackIsFrozen) {
    Soak soak;
    EXPECT_THAT(soak.see(event(WatchEvent::Kind::frozen, 1, 1024, false)),
                ElementsAre(Do::drive_off));
}

TEST(Reactions, FlagAShortDropoutAndHoldOneThatGoesOn) {
    Soak soak;
    EXPECT_THAT(soak.see(event(WatchEvent::Kind::dropout, 1, -60.0)), ElementsAre(Do::flag));
    EXPECT_THAT(soak.see(Tick{}, 0.5), IsEmpty());
    EXPECT_THAT(soak.see(Tick{}, 0.6), ElementsAre(Do::drive_off));
    Soak brief;
    brief.see(event(WatchEvent::Kind::dropout, 1, -60.0));
    SoakEvent over = event(WatchEvent::Kind::dropout, 1, -60.0);
    over.lasts = false;
    over.seen.duration = Seconds{0.02};
    EXPECT_THAT(brief.see(over), IsEmpty());
    EXPECT_THAT(brief.see(Tick{}, 5.0), IsEmpty());
}

TEST(Reactions, HoldALevelStepOfHalfADecibelAndFlagASmallerOne) {
    Soak soak;
    EXPECT_THAT(soak.see(event(WatchEvent::Kind::level, 1, -0.3)), ElementsAre(Do::flag));
    EXPECT_THAT(soak.see(event(WatchEvent::Kind::level, 2, 0.6)), ElementsAre(Do::drive_off));
}

TEST(Reactions, KillAnOffsetStepOfATenthOfAVolt) {
    Soak soak;
    EXPECT_THAT(soak.see(event(WatchEvent::Kind::offset, 1, -0.12)),
                ElementsAre(Do::drive_off, Do::mains_off, Do::end));
}

TEST(Reactions, StopWhenTheUnitWasRemovedAndBlameNothing) {
    Soak soak;
    EXPECT_THAT(soak.see(news(News::unit_removed)), ElementsAre(Do::drive_off, Do::end));
    EXPECT_EQ(soak.reactions.state(), State::stopped);
}

TEST(Reactions, StopWhenTheDiskIsFullAndAfterAnInterruption) {
    for (const News kind : {News::disk_full, News::interrupted}) {
        Soak soak;
        EXPECT_THAT(soak.see(news(kind)), ElementsAre(Do::drive_off, Do::end)) << name(kind);
        // Nothing makes it drive again.
        EXPECT_THAT(soak.see(DriveIsOff{}), IsEmpty());
        EXPECT_THAT(soak.see(RigChecked{true, ""}), IsEmpty());
        EXPECT_EQ(soak.reactions.state(), State::stopped);
    }
}

TEST(Reactions, NoteWhatIsIrrelevantToSafety) {
    Soak soak;
    EXPECT_THAT(soak.see(news(News::network_lost)), ElementsAre(Do::note));
    EXPECT_THAT(soak.see(news(News::wall_clock_jumped)), ElementsAre(Do::note));
    EXPECT_EQ(soak.reactions.state(), State::driving);
}

TEST(Reactions, HoldWhenTheProgramIsBehindRealTime) {
    Soak soak;
    EXPECT_THAT(soak.see(news(News::program_late)), ElementsAre(Do::drive_off));
}

TEST(Reactions, TakeAReadingThatIsNoNumberForTheWorst) {
    Soak soak;
    EXPECT_THAT(
        soak.see(Measured{SoakQuantity::offset, 1, std::numeric_limits<double>::quiet_NaN()}),
        ElementsAre(Do::drive_off, Do::mains_off, Do::end));
}

TEST(Reactions, HoldASequenceToTheLimitsOfTheBench) {
    SoakLimits sequence;
    sequence[SoakQuantity::offset] = {std::nullopt, std::nullopt, 5.0};
    sequence[SoakQuantity::hum_rise] = {3.0, std::nullopt, std::nullopt};
    SoakLimits bench;
    bench[SoakQuantity::offset] = {0.1, std::nullopt, 0.3};
    const SoakLimits both = under(sequence, bench);
    EXPECT_EQ(both.at(SoakQuantity::offset).kill, 0.3);  // not loosened
    EXPECT_EQ(both.at(SoakQuantity::offset).flag, 0.1);  // kept
    EXPECT_EQ(both.at(SoakQuantity::hum_rise).flag, 3.0);
    sequence[SoakQuantity::offset].kill = 0.2;
    EXPECT_EQ(under(sequence, bench).at(SoakQuantity::offset).kill, 0.2);  // stricter is allowed
}

TEST(Reactions, KnowEveryQuantityByItsName) {
    for (const auto& [quantity, limit] : usual_limits()) {
        EXPECT_EQ(soak_quantity(name(quantity)), quantity);
        EXPECT_FALSE(unit(quantity).empty());
    }
    EXPECT_FALSE(soak_quantity("mood"));
}

}  // namespace
}  // namespace afterload::analysis
