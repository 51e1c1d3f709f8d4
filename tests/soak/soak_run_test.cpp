// Soaks of minutes on the simulated bench: a healthy unit passes, and each fault is found, blamed,
// at its time, with its reaction. Hours and 48 kHz: soak_hours_test.cpp.

#include "tests/soak/soak_bench.hpp"
#include "tests/support/simulated_run.hpp"

#include <gmock/gmock.h>

#include <algorithm>
#include <filesystem>

namespace afterload::test {
namespace {

using runner::Blame;
using runner::RunEvent;
using testing::HasSubstr;

/// The first event of these kinds at or after the fault's beginning.
const RunEvent* first_of(const Soaked& run, const std::vector<std::string>& kinds) {
    for (const RunEvent& event : run.events()) {
        if (std::find(kinds.begin(), kinds.end(), event.kind) != kinds.end()) {
            return &event;
        }
    }
    return nullptr;
}

/// Events that may be the unit's.
int not_the_rigs(const Soaked& run) {
    return static_cast<int>(
        std::count_if(run.events().begin(), run.events().end(),
                      [](const RunEvent& event) { return event.blame != Blame::rig; }));
}

int plainly_the_units(const Soaked& run) {
    return static_cast<int>(
        std::count_if(run.events().begin(), run.events().end(),
                      [](const RunEvent& event) { return event.blame == Blame::unit; }));
}

void expect_near_its_beginning(const RunEvent& event, double begins, double within) {
    EXPECT_GE(event.since_start.in<Seconds>(), begins - 0.2);
    EXPECT_LE(event.since_start.in<Seconds>(), begins + within);
}

TEST(Soak, OfAHealthyUnitRunsToItsEndWithoutAnEvent) {
    const TemporaryFolder folder;
    WantedSoak wanted;
    wanted.minutes = 10.0;
    wanted.remeasure = true;
    const Soaked run = soaked(wanted, folder.path());
    EXPECT_EQ(run.soak().state, "finished") << run.told();
    EXPECT_TRUE(run.events().empty()) << run.told();
    EXPECT_EQ(run.document.verdict, runner::RunVerdict::pass) << run.document.stop_reason;
    EXPECT_TRUE(run.outputs_safe());
    EXPECT_LE(run.strain.worst_range_use, 1.0);
    // Start, 5 min and end: each its own result, with its record.
    const auto again = std::count_if(run.document.steps.begin(), run.document.steps.end(),
                                     [](const auto& step) { return step.within == "soak"; });
    EXPECT_EQ(again, 3);
    // All but what is measured again is watched: every block of it.
    EXPECT_GT(run.soak().watched.in<Seconds>(), 560.0);
    EXPECT_LE(run.soak().watched.in<Seconds>(), 601.0);
}

TEST(Soak, OfPinkNoiseRunsToItsEndWithoutAnEvent) {
    const TemporaryFolder folder;
    WantedSoak wanted;
    wanted.signal = "pink_noise";
    wanted.change = [](sequences::Soak& soak) {
        soak.sine_window = sequences::SineWindow{Seconds{90.0}, Seconds{20.0}};
    };
    const Soaked run = soaked(wanted, folder.path());
    EXPECT_EQ(run.soak().state, "finished") << run.told();
    EXPECT_TRUE(run.events().empty()) << run.told();
    EXPECT_LE(run.strain.worst_range_use, 1.0);
}

TEST(Soak, IsSilentWhileItsCycleSaysSo) {
    const TemporaryFolder folder;
    WantedSoak wanted;
    wanted.change = [](sequences::Soak& soak) {
        soak.cycle = sequences::OnOffCycle{Seconds{60.0}, Seconds{30.0}};
    };
    const Soaked run = soaked(wanted, folder.path());
    EXPECT_EQ(run.soak().state, "finished") << run.told();
    EXPECT_TRUE(run.events().empty()) << run.told();
    // 240 s: three rounds of 60 s driven, of 8 ohm at 5 W and a little on the way up.
    EXPECT_NEAR(run.strain.into_left.in<Joules>(), 5.0 * 170.0, 5.0 * 20.0);
}

TEST(Soak, RegulatesSlowlyAndNeverPastItsTarget) {
    const TemporaryFolder folder;
    WantedSoak wanted;
    wanted.minutes = 5.0;
    const Soaked run = soaked(wanted, folder.path());
    for (const auto& moved : run.soak().regulations) {
        EXPECT_LE(std::abs(moved.change_db), 0.1001);
        EXPECT_FALSE(moved.why.empty());
    }
    // 5 W into 8.02 ohm, 6.33 V rms, 8.96 V peak, is the target: within what the bench knows of it.
    EXPECT_LT(run.strain.worst_output, 8.96 * 1.02);
}

TEST(Soak, TellsTheSameOfTheSameSeeds) {
    const TemporaryFolder folder;
    WantedSoak wanted;
    wanted.faults = {fault("bad_joint", Channels::right, 1.0, 60.0)};
    const Soaked once = soaked(wanted, folder.path(), "once");
    const Soaked again = soaked(wanted, folder.path(), "again");
    EXPECT_FALSE(once.events().empty());
    EXPECT_EQ(once.told(), again.told());
}

TEST(Soak, AJointThatOpensIsTheUnitsOrItsLeads) {
    const TemporaryFolder folder;
    WantedSoak wanted;
    wanted.faults = {fault("bad_joint", Channels::right, 1.0, 100.0)};
    const Soaked run = soaked(wanted, folder.path());
    const RunEvent* event = first_of(run, {"dropout", "level"});
    ASSERT_NE(event, nullptr) << run.told();
    expect_near_its_beginning(*event, 100.0, 20.0);
    EXPECT_EQ(event->channel, 2);
    EXPECT_EQ(event->blame, Blame::unit_or_lead);
    EXPECT_TRUE(event->timeline_intact);
    EXPECT_FALSE(event->reaction.empty());
    EXPECT_EQ(plainly_the_units(run), 0) << run.told();
    EXPECT_NE(run.document.verdict, runner::RunVerdict::pass);
}

TEST(Soak, KeepsFiveSecondsBeforeAndAfterAnEvent) {
    const TemporaryFolder folder;
    WantedSoak wanted;
    wanted.faults = {fault("lost_frames", Channels::both, 0.5, 100.0)};
    const Soaked run = soaked(wanted, folder.path());
    const RunEvent* event = first_of(run, {"gap"});
    ASSERT_NE(event, nullptr) << run.told();
    ASSERT_FALSE(event->record.empty());
    const auto stored = std::find_if(run.step().records.begin(), run.step().records.end(),
                                     [&](const auto& one) { return one.path == event->record; });
    ASSERT_NE(stored, run.step().records.end());
    const auto opened = runner::RunFolder::open(run.folder);
    ASSERT_TRUE(opened.has_value());
    const auto record = opened->load(*stored);
    ASSERT_TRUE(record.has_value()) << record.error();
    EXPECT_NEAR(static_cast<double>(record->length().count()) / wanted.rate, 10.0, 0.01);
    EXPECT_TRUE(record->channels.size() == 2);
    EXPECT_NEAR((event->since_start - stored->driven.since_start).in<Seconds>(), 5.0, 0.05);
    EXPECT_TRUE(std::filesystem::exists(run.folder + "/soak-2.ndjson"));
}

TEST(Soak, SamplesThatTheCardLosesAreTheRigsAndTheUnitStillPasses) {
    const TemporaryFolder folder;
    WantedSoak wanted;
    wanted.remeasure = true;
    wanted.faults = {fault("lost_frames", Channels::both, 0.5, 100.0)};
    const Soaked run = soaked(wanted, folder.path());
    const RunEvent* event = first_of(run, {"gap"});
    ASSERT_NE(event, nullptr) << run.told();
    expect_near_its_beginning(*event, 100.0, 1.0);
    EXPECT_EQ(event->blame, Blame::rig);
    EXPECT_EQ(event->channel, 0);
    EXPECT_EQ(run.soak().state, "finished");
    EXPECT_EQ(not_the_rigs(run), 0) << run.told();
    EXPECT_EQ(run.document.verdict, runner::RunVerdict::pass);
}

TEST(Soak, FilmOnARelayIsSeenInLevelOrDistortionOfItsChannel) {
    const TemporaryFolder folder;
    WantedSoak wanted;
    wanted.faults = {fault("contact_film", Channels::left, 1.0, 100.0)};
    const Soaked run = soaked(wanted, folder.path());
    const RunEvent* event =
        first_of(run, {"distortion", "level", "level_drift", "distortion_ratio"});
    ASSERT_NE(event, nullptr) << run.told();
    expect_near_its_beginning(*event, 100.0, 30.0);
    EXPECT_EQ(event->channel, 1);
    EXPECT_EQ(plainly_the_units(run), 0) << run.told();
}

TEST(Soak, PopcornNoiseIsToldOfItsChannel) {
    const TemporaryFolder folder;
    WantedSoak wanted;
    wanted.faults = {fault("random_steps", Channels::right, 1.0, 100.0)};
    const Soaked run = soaked(wanted, folder.path());
    const RunEvent* event = first_of(run, {"noise", "offset", "level", "noise_rise", "hum"});
    ASSERT_NE(event, nullptr) << run.told();
    expect_near_its_beginning(*event, 100.0, 20.0);
    EXPECT_EQ(event->channel, 2);
    EXPECT_EQ(plainly_the_units(run), 0) << run.told();
}

TEST(Soak, ADryingCapacitorShowsInTheResponseThatIsMeasuredAgain) {
    const TemporaryFolder folder;
    WantedSoak wanted;
    wanted.sequence = "sequences/soak-response.sequence.yaml";
    wanted.remeasure = true;
    wanted.faults = {fault("dried_coupling_capacitor", Channels::left, 1.0, 100.0)};
    const Soaked run = soaked(wanted, folder.path());
    EXPECT_EQ(run.soak().state, "finished") << run.told();
    EXPECT_EQ(run.document.verdict, runner::RunVerdict::fail);
    for (const auto& step : run.document.steps) {
        for (const auto& entry : step.figures) {
            if (entry.figure.kind == FigureKind::frequency_response && entry.verdict &&
                step.moment == "start") {
                EXPECT_NE(entry.verdict->kind, analysis::VerdictKind::fail);
            }
        }
    }
}

TEST(Soak, TheUnitsOwnCutOutIsToldAsBothChannelsGone) {
    const TemporaryFolder folder;
    WantedSoak wanted;
    wanted.faults = {fault("thermal_cut_out", Channels::both, 0.5, 120.0)};
    const Soaked run = soaked(wanted, folder.path());
    const RunEvent* event = first_of(run, {"dropout"});
    ASSERT_NE(event, nullptr) << run.told();
    expect_near_its_beginning(*event, 120.0, 1.0);
    EXPECT_EQ(event->channel, 0);
    EXPECT_NE(event->blame, Blame::rig);
    EXPECT_NE(event->blame, Blame::unit_or_lead);
    EXPECT_NE(run.soak().state, "finished") << run.told();
    EXPECT_TRUE(run.outputs_safe());
}

TEST(Soak, ALeadThatOpensIsNeverSaidToBeTheUnit) {
    const TemporaryFolder folder;
    WantedSoak wanted;
    wanted.faults = {fault("open_lead", Channels::right, 1.0, 100.0)};
    const Soaked run = soaked(wanted, folder.path());
    const RunEvent* event = first_of(run, {"dropout"});
    ASSERT_NE(event, nullptr) << run.told();
    expect_near_its_beginning(*event, 100.0, 20.0);
    EXPECT_EQ(event->channel, 2);
    EXPECT_EQ(event->blame, Blame::unit_or_lead);
    EXPECT_EQ(plainly_the_units(run), 0) << run.told();
}

TEST(Soak, ASagOfTheMainsIsTheMains) {
    const TemporaryFolder folder;
    WantedSoak wanted;
    wanted.remeasure = true;
    wanted.faults = {fault("mains_sag", Channels::both, 0.5, 100.0)};
    const Soaked run = soaked(wanted, folder.path());
    const RunEvent* event = first_of(run, {"mains"});
    ASSERT_NE(event, nullptr) << run.told();
    expect_near_its_beginning(*event, 100.0, 3.0);
    EXPECT_NEAR(event->size, 230.0 * 0.88, 4.0);
    EXPECT_EQ(event->blame, Blame::unit_or_mains);
    EXPECT_EQ(plainly_the_units(run), 0) << run.told();
}

TEST(Soak, ADeadSensorIsTheRigsAndNothingIsDrivenByIt) {
    const TemporaryFolder folder;
    WantedSoak wanted;
    wanted.faults = {fault("dead_sensor", Channels::both, 0.5, 100.0)};
    const Soaked run = soaked(wanted, folder.path());
    const RunEvent* event = first_of(run, {"sensor"});
    ASSERT_NE(event, nullptr) << run.told();
    expect_near_its_beginning(*event, 100.0, 4.0);
    EXPECT_EQ(event->blame, Blame::rig);
    EXPECT_NE(run.soak().state, "finished") << run.told();
    EXPECT_TRUE(run.outputs_safe());
    EXPECT_EQ(not_the_rigs(run), 0) << run.told();
}

TEST(Soak, SensorsThatDisagreeAreFlaggedAndTheHotterCounts) {
    const TemporaryFolder folder;
    WantedSoak wanted;
    wanted.sink_sensors = 2;
    wanted.faults = {fault("disagreeing_sensor", Channels::both, 0.5, 100.0)};
    const Soaked run = soaked(wanted, folder.path());
    const RunEvent* event = first_of(run, {"sensor"});
    ASSERT_NE(event, nullptr) << run.told();
    expect_near_its_beginning(*event, 100.0, 4.0);
    EXPECT_EQ(event->blame, Blame::rig);
    EXPECT_EQ(event->reaction, "flag");
    EXPECT_EQ(run.soak().state, "finished") << run.told();
}

TEST(Soak, ACardThatStopsRecordingEndsItWithTheDriveOff) {
    const TemporaryFolder folder;
    WantedSoak wanted;
    wanted.faults = {fault("lost_card", Channels::both, 0.5, 100.0)};
    const Soaked run = soaked(wanted, folder.path());
    const RunEvent* event = first_of(run, {"capture_lost"});
    ASSERT_NE(event, nullptr) << run.told();
    expect_near_its_beginning(*event, 100.0, 1.0);
    EXPECT_EQ(event->blame, Blame::rig);
    EXPECT_EQ(event->reaction, "hold");
    EXPECT_EQ(run.soak().state, "stopped") << run.told();
    EXPECT_TRUE(run.outputs_safe());
    EXPECT_TRUE(run.strain.powered);
}

TEST(Soak, ACardThatIsGoneWithItsPlayingOpensTheMains) {
    const TemporaryFolder folder;
    WantedSoak wanted;
    wanted.faults = {fault("lost_card", Channels::both, 1.0, 100.0)};
    const Soaked run = soaked(wanted, folder.path());
    EXPECT_EQ(run.soak().state, "killed") << run.told();
    EXPECT_FALSE(run.strain.powered);
    EXPECT_TRUE(run.outputs_safe());
    EXPECT_EQ(not_the_rigs(run), 0) << run.told();
}

TEST(Soak, PlayingThatFreezesIsHeldAndTriedOnceMore) {
    const TemporaryFolder folder;
    WantedSoak wanted;
    wanted.faults = {fault("frozen_playback", Channels::both, 0.5, 100.0)};
    const Soaked run = soaked(wanted, folder.path());
    const RunEvent* event = first_of(run, {"frozen"});
    ASSERT_NE(event, nullptr) << run.told();
    expect_near_its_beginning(*event, 100.0, 1.0);
    EXPECT_EQ(event->blame, Blame::rig);
    EXPECT_EQ(event->reaction, "hold");
    EXPECT_EQ(run.soak().state, "finished") << run.told();
    EXPECT_EQ(not_the_rigs(run), 0) << run.told();
}

TEST(Soak, AStopInItsMiddleLeavesOutputsSafeAndAllMeasured) {
    const TemporaryFolder folder;
    WantedSoak wanted;
    wanted.remeasure = true;
    wanted.stop_after = Seconds{150.0};
    const Soaked run = soaked(wanted, folder.path());
    EXPECT_TRUE(run.outputs_safe());
    EXPECT_EQ(run.document.state, runner::RunState::stopped);
    EXPECT_EQ(run.soak().state, "stopped");
    EXPECT_GT(run.soak().lasted.in<Seconds>(), 110.0);
    EXPECT_FALSE(run.soak().trends.empty());
    EXPECT_TRUE(std::any_of(run.document.steps.begin(), run.document.steps.end(),
                            [](const auto& step) { return step.moment == "start"; }));
}

// Heat takes its time: with the slow tests.
#ifdef AFTERLOAD_LONG_SOAKS

TEST(Soak, AThermalJointComesAndGoesWithTheHeatOfItsSink) {
    const TemporaryFolder folder;
    WantedSoak wanted;
    wanted.minutes = 30.0;
    wanted.faults = {fault("bad_joint", Channels::left, 1.0, std::nullopt, 33.0)};
    const Soaked run = soaked(wanted, folder.path());
    const RunEvent* event = first_of(run, {"dropout", "level"});
    ASSERT_NE(event, nullptr) << run.told();
    EXPECT_EQ(event->channel, 1);
    ASSERT_TRUE(event->heat_sink.has_value());
    EXPECT_GT(*event->heat_sink, 31.5);
    for (const RunEvent& one : run.of_kind({"dropout", "level"})) {
        EXPECT_NE(one.blame, Blame::rig) << run.told();
    }
}

TEST(Soak, ABiasThatRunsAwayTurnsEverythingOff) {
    const TemporaryFolder folder;
    WantedSoak wanted;
    wanted.minutes = 40.0;
    wanted.sink_sensors = 2;
    wanted.faults = {fault("bias_runaway", Channels::both, 1.0, std::nullopt)};
    const Soaked run = soaked(wanted, folder.path());
    EXPECT_EQ(run.soak().state, "killed") << run.told();
    EXPECT_TRUE(run.soak().killed);
    EXPECT_FALSE(run.strain.powered);
    EXPECT_TRUE(run.outputs_safe());
    EXPECT_EQ(run.document.verdict, runner::RunVerdict::stopped);
    EXPECT_THAT(run.document.stop_reason, HasSubstr(run.soak().why));
}

TEST(Soak, AnOffsetThatWandersWithHeatIsKilledAtItsLimit) {
    const TemporaryFolder folder;
    WantedSoak wanted;
    wanted.minutes = 40.0;
    wanted.faults = {fault("wandering_offset", Channels::left, 1.0, std::nullopt)};
    const Soaked run = soaked(wanted, folder.path());
    const RunEvent* event = first_of(run, {"offset"});
    ASSERT_NE(event, nullptr) << run.told();
    EXPECT_EQ(event->channel, 1);
    EXPECT_EQ(run.soak().state, "killed") << run.told();
    EXPECT_EQ(plainly_the_units(run), 0) << run.told();
}

TEST(Soak, AFrozenSensorIsNoticedWhenThePowerHasMoved) {
    const TemporaryFolder folder;
    WantedSoak wanted;
    wanted.minutes = 16.0;
    wanted.change = [](sequences::Soak& soak) {
        soak.cycle = sequences::OnOffCycle{Seconds{180.0}, Seconds{120.0}};
    };
    wanted.faults = {fault("frozen_sensor", Channels::both, 0.5, 100.0)};
    const Soaked run = soaked(wanted, folder.path());
    const RunEvent* event = first_of(run, {"sensor"});
    ASSERT_NE(event, nullptr) << run.told();
    EXPECT_GT(event->since_start.in<Seconds>(), 100.0 + 290.0);
    EXPECT_LT(event->since_start.in<Seconds>(), 100.0 + 600.0);
    EXPECT_EQ(event->blame, Blame::rig);
    EXPECT_EQ(not_the_rigs(run), 0) << run.told();
}

#endif

}  // namespace
}  // namespace afterload::test
