// The parts of a soak one by one: consent, what is cut out of the stream, when what is due.
#include "analysis/soak/reaction.hpp"
#include "runner/soak/event_capture.hpp"
#include "runner/soak/hands_free_check.hpp"
#include "runner/soak/soak_consent.hpp"
#include "runner/soak/soak_observer.hpp"
#include "runner/soak/soak_schedule.hpp"
#include "sequences/soak.hpp"
#include "tests/support/simulated_run.hpp"

#include <gmock/gmock.h>

#include <map>
#include <memory>
#include <sstream>

namespace afterload::runner {
namespace {

using testing::HasSubstr;

RunPlan soak_plan() {
    test::SimulatedRun wanted;
    wanted.sequence = "soak";
    wanted.bench = "benches/north-48k.bench.yaml";
    return test::plan_of(wanted);
}

/// A soak of which a test says what each second reads.
class ObservedSoak {
public:
    /// A second of a tone whose gain stands `left` and `right` dB off.
    void second(double left, double right) {
        analysis::SoakReading reading;
        reading.kind = analysis::WatchedStimulus::Kind::tone;
        for (const double decibels : {left, right}) {
            analysis::ChannelReading channel;
            channel.gain = Gain{30.0 + decibels};
            reading.channels.push_back(channel);
        }
        observer_.read(reading, Seconds{second_++});
        for (const SoakPending& pending : observer_.take()) {
            flags_ += pending.decision.kind == analysis::Decision::Kind::flag ? 1 : 0;
        }
    }
    void seconds(int count, double left, double right) {
        for (int n = 0; n < count; ++n) {
            second(left, right);
        }
    }
    /// A change of level half a second before the last second ended.
    void step(std::uint64_t id, double decibels, int channel = 0,
              std::optional<double> lasted = std::nullopt) {
        analysis::SoakEvent event;
        event.id = id;
        event.seen.kind = analysis::WatchEvent::Kind::level;
        event.seen.channel = channel;
        event.seen.size = decibels;
        event.lasts = !lasted;
        event.seen.duration = Seconds{lasted.value_or(0.0)};
        if (lasts_since_.count(id) == 0) {
            lasts_since_[id] = Seconds{second_ - 0.5};
        }
        static_cast<void>(observer_.told(event, lasts_since_[id], SoakDriving{}));
        static_cast<void>(observer_.take());
    }
    [[nodiscard]] int flags() const { return flags_; }

private:
    sequences::Soak soak_;
    std::vector<RunEvent> list_;
    SoakEvents events_{list_, Seconds{0.0}};
    SoakTrends trends_;
    SoakObserver observer_{soak_, {}, std::nullopt, events_, trends_};
    std::map<std::uint64_t, Seconds> lasts_since_;
    double second_ = 0.0;
    int flags_ = 0;
};

analysis::SoakEvent soak_event(std::uint64_t id, analysis::WatchEvent::Kind kind, double start,
                               double lasted) {
    analysis::SoakEvent event;
    event.id = id;
    event.seen.kind = kind;
    event.seen.channel = 0;
    event.seen.start = Seconds{start};
    event.seen.duration = Seconds{lasted};
    event.seen.timeline_intact = kind == analysis::WatchEvent::Kind::dropout;
    event.lasts = false;
    event.since_start = event.seen.start;
    return event;
}

TEST(SoakEvents, BlameTheRigForASilenceThatEndsWhereSamplesAreMissing) {
    using Kind = analysis::WatchEvent::Kind;
    std::vector<RunEvent> list;
    SoakEvents events{list, Seconds{0.0}};
    events.see(soak_event(1, Kind::dropout, 50.0, 0.1), Seconds{50.0});
    events.see(soak_event(2, Kind::dropout, 119.119, 0.135), Seconds{119.119});
    EXPECT_EQ(list[1].blame, Blame::unit_or_mains);
    events.see(soak_event(3, Kind::repeat, 119.254, 0.041), Seconds{119.254});
    EXPECT_EQ(list[0].blame, Blame::unit_or_mains);
    EXPECT_EQ(list[1].blame, Blame::rig);
    EXPECT_EQ(list[2].blame, Blame::rig);
    // The slip is taken back: it was part of something else.
    auto withdrawn = soak_event(3, Kind::repeat, 119.254, 0.041);
    withdrawn.withdrawn = true;
    events.see(withdrawn, Seconds{119.254});
    EXPECT_EQ(list[1].blame, Blame::unit_or_mains);
}

TEST(SoakObserver, FlagsADriftOfATenthOfADecibelThatNoEventExplains) {
    ObservedSoak soak;
    soak.seconds(10, 0.0, 0.0);
    soak.seconds(10, 0.09, 0.0);
    EXPECT_EQ(soak.flags(), 0);
    soak.seconds(10, 0.11, 0.0);
    EXPECT_EQ(soak.flags(), 1);
}

TEST(SoakObserver, DoesNotTellAStepOfLevelAsADriftAsWell) {
    ObservedSoak soak;
    soak.seconds(10, 0.0, 0.0);
    soak.second(-0.2, -0.2);  // half of it before the step
    soak.step(1, -0.4);
    soak.seconds(20, -0.4, -0.4);
    EXPECT_EQ(soak.flags(), 0);
    // Over, because another level is played; the unit stays where it was.
    soak.step(1, -0.4, 0, 20.0);
    soak.seconds(20, -0.4, -0.4);
    EXPECT_EQ(soak.flags(), 0);
    // What goes on from there is a drift.
    soak.seconds(5, -0.4, -0.52);
    EXPECT_EQ(soak.flags(), 1);
}

TEST(SoakObserver, ComesBackWithAStepThatIsOver) {
    ObservedSoak soak;
    soak.seconds(10, 0.0, 0.0);
    soak.second(-0.2, 0.0);
    soak.step(1, -0.4, 1);
    soak.seconds(5, -0.4, 0.0);
    soak.second(-0.2, 0.0);
    soak.step(1, -0.4, 1, 6.0);
    soak.seconds(20, 0.0, 0.0);
    EXPECT_EQ(soak.flags(), 0);
    soak.seconds(5, -0.4, 0.0);
    EXPECT_EQ(soak.flags(), 1);
}

instruments::Captured silence_of(std::vector<std::int32_t> left, std::vector<std::int32_t> right) {
    instruments::Captured heard;
    heard.record.rate = SampleRate{48000.0};
    heard.record.channels = {std::move(left), std::move(right)};
    heard.record.calibration.resize(2);
    return heard;
}

TEST(HandsFreeCheck, TakesZerosForSilenceOnlyFromWhatHasNoConverter) {
    const auto zeros = silence_of(std::vector<std::int32_t>(100, 0), {0, 1, 0, -1});
    EXPECT_THAT(hands_free_check(zeros, VoltsRms{1.0}, false).what, HasSubstr("channel 1"));
    EXPECT_TRUE(hands_free_check(zeros, VoltsRms{1.0}, true).passed);
    // Nobody's silence: an input that is stuck.
    const auto stuck = silence_of(std::vector<std::int32_t>(100, 5), {0, 1, 0, -1});
    EXPECT_FALSE(hands_free_check(stuck, VoltsRms{1.0}, true).passed);
    EXPECT_FALSE(hands_free_check(silence_of({}, {}), VoltsRms{1.0}, true).passed);
}

TEST(SoakConsent, TakesNothingForAYesButYesAndTheDuration) {
    const auto question = soak_question(soak_plan());
    ASSERT_TRUE(question.has_value());
    EXPECT_FALSE(question->must_stay);
    EXPECT_EQ(question->duration, Seconds{4.0 * 3600.0});
    for (const auto& [typed, good] :
         {std::pair{"A. Reed, 555 0100\nyes 4 h\n", true}, std::pair{"A. Reed\nyes\n", false},
          std::pair{"A. Reed\nyes 3 h\n", false}, std::pair{"\nyes 4 h\n", false},
          std::pair{"", false}}) {
        std::istringstream in{typed};
        std::ostringstream out;
        TerminalOperator person{in, out};
        const auto consent = ask_for_soak(*question, person);
        EXPECT_EQ(consent.has_value(), good) << typed;
        EXPECT_THAT(out.str(), HasSubstr("Caution  An unattended unit"));
        EXPECT_THAT(out.str(), HasSubstr("4 h"));
        if (good) {
            EXPECT_EQ(consent->reachable, "A. Reed, 555 0100");
            EXPECT_EQ(consent->duration, Seconds{4.0 * 3600.0});
            EXPECT_FALSE(consent->cautions.empty());
        }
    }
}

TEST(SoakConsent, IsRefusedWhereTheBenchCannotGuardItselfUnlessSomebodyStays) {
    for (const bool no_sensor : {true, false}) {
        RunPlan plan = soak_plan();
        if (no_sensor) {
            plan.bench.meters.clear();
        } else {
            plan.bench.cut_out = "none";
        }
        const auto question = soak_question(plan);
        ASSERT_TRUE(question.has_value());
        EXPECT_TRUE(question->must_stay);
        EXPECT_THAT(question->why,
                    HasSubstr(no_sensor ? "no sensor on the unit" : "no independent cut-out"));
        std::istringstream stays{"B. Moor\nyes 4 h\n"};
        std::ostringstream out;
        TerminalOperator person{stays, out};
        const auto consent = ask_for_soak(*question, person);
        ASSERT_TRUE(consent.has_value());
        EXPECT_TRUE(consent->stays);
        std::istringstream nobody{"\n"};
        TerminalOperator gone{nobody, out};
        const auto refused = ask_for_soak(*question, gone);
        ASSERT_FALSE(refused.has_value());
        EXPECT_THAT(refused.error().what, HasSubstr("unless somebody stays"));
    }
}

TEST(SoakConsent, AMeterThatSomebodyReadsIsNoSensor) {
    RunPlan plan = soak_plan();
    plan.bench.simulated.reset();
    EXPECT_TRUE(cannot_be_left(plan.bench).has_value());
    plan.bench.meters.push_back(
        {"sink", {"heat_sink"}, {}, "/sys/class/hwmon/hwmon2/temp1_input", 0.005});
    EXPECT_FALSE(cannot_be_left(plan.bench).has_value());
}

instruments::CapturedBlock block_of(std::int32_t value, std::size_t frames) {
    instruments::CapturedBlock block;
    block.channels = {std::vector<std::int32_t>(frames, value),
                      std::vector<std::int32_t>(frames, -value)};
    return block;
}

TEST(EventCapture, CutsFiveSecondsBeforeAndAfterToTheFrame) {
    const SampleRate rate{1000.0};
    EventCapture capture{rate, 16, {{"left", VoltsPeak{1.0}}, {"right", VoltsPeak{1.0}}}};
    std::vector<CutOut> cuts;
    for (int i = 0; i < 300; ++i) {
        capture.add(block_of(i, 100), Seconds{0.1 * i});
        if (i == 150) {
            capture.want(1, Seconds{15.05});
            capture.want(2, Seconds{16.05});
        }
        for (CutOut& cut : capture.take()) {
            cuts.push_back(std::move(cut));
        }
    }
    ASSERT_EQ(cuts.size(), 1U);
    EXPECT_TRUE(cuts[0].whole);
    EXPECT_EQ(cuts[0].events, (std::vector<int>{1, 2}));
    EXPECT_NEAR(cuts[0].from.in<Seconds>(), 10.05, 1e-9);
    EXPECT_EQ(cuts[0].record.length().count(), 11000);
    EXPECT_EQ(cuts[0].record.channels[0].front(), 100);
    EXPECT_EQ(cuts[0].record.channels[1].back(), -210);
}

TEST(EventCapture, KeepsWhatThereIsWhenTheStreamEnds) {
    const SampleRate rate{1000.0};
    EventCapture capture{rate, 16, {{"left", VoltsPeak{1.0}}, {"right", VoltsPeak{1.0}}}};
    for (int i = 0; i < 30; ++i) {
        capture.add(block_of(i, 100), Seconds{0.1 * i});
    }
    capture.want(1, Seconds{2.9});
    EXPECT_TRUE(capture.take().empty());
    const auto cuts = capture.finish();
    ASSERT_EQ(cuts.size(), 1U);
    EXPECT_FALSE(cuts[0].whole);
    EXPECT_EQ(cuts[0].record.length().count(), 3000);
}

TEST(SoakSchedule, DrivesByTurnsAndPutsASineIntoTheNoise) {
    sequences::Soak soak;
    soak.duration = Seconds{7200.0};
    soak.signal = sequences::SoakSignal::pink_noise;
    soak.sine_window = sequences::SineWindow{Seconds{600.0}, Seconds{60.0}};
    soak.cycle = sequences::OnOffCycle{Seconds{1200.0}, Seconds{600.0}};
    const SoakSchedule schedule{soak};
    using What = SoakPlayer::What;
    EXPECT_EQ(schedule.due(Seconds{0.0}), What::loop);
    EXPECT_EQ(schedule.due(Seconds{539.9}), What::loop);
    EXPECT_EQ(schedule.due(Seconds{540.0}), What::sine);
    EXPECT_EQ(schedule.due(Seconds{600.0}), What::loop);
    EXPECT_EQ(schedule.due(Seconds{1200.0}), What::nothing);
    EXPECT_EQ(schedule.due(Seconds{1799.9}), What::nothing);
    EXPECT_EQ(schedule.due(Seconds{1800.0}), What::loop);
}

TEST(SoakSchedule, MeasuresAgainAtItsIntervalsOnceWhenHotAndNotTwiceWhenLate) {
    sequences::Soak soak;
    soak.duration = Seconds{4.0 * 3600.0};
    soak.remeasure.emplace_back();
    soak.remeasure[0].every = Seconds{1800.0};
    soak.remeasure[0].hot = true;
    SoakSchedule schedule{soak};
    EXPECT_TRUE(schedule.remeasure_due(Seconds{100.0}, true).empty());  // hardly begun
    EXPECT_EQ(schedule.remeasure_due(Seconds{1300.0}, true).size(), 1U);
    EXPECT_TRUE(schedule.remeasure_due(Seconds{1400.0}, true).empty());
    EXPECT_EQ(schedule.remeasure_due(Seconds{1800.0}, true).size(), 1U);
    EXPECT_EQ(schedule.remeasure_due(Seconds{9000.0}, true).size(), 1U);  // late: once
    EXPECT_TRUE(schedule.remeasure_due(Seconds{9001.0}, true).empty());
}

TEST(SoakLimits, AllThatAreNotTemperaturesAreThoseOfTheReactions) {
    for (const auto& limit : sequences::soak_limit_names()) {
        const bool temperature = limit.name == "heat_sink" || limit.name == "heat_sink_rise" ||
                                 limit.name == "load_temperature" || limit.name == "ambient";
        EXPECT_NE(analysis::soak_quantity(limit.name).has_value(), temperature) << limit.name;
        EXPECT_EQ(limit.holds, !temperature) << limit.name;
    }
    EXPECT_EQ(sequences::soak_limit_names().size(), analysis::usual_limits().size() + 4);
}

TEST(SoakLimits, OfASequenceStandOverTheUsualOnes) {
    sequences::Soak soak;
    soak.limits.push_back({"level_step", 0.3, std::nullopt, std::nullopt, {}});
    const auto limits = limits_of(soak);
    EXPECT_DOUBLE_EQ(*limits.at(analysis::SoakQuantity::level_step).flag, 0.3);
    EXPECT_EQ(limits.at(analysis::SoakQuantity::level_step).hold,
              analysis::usual_limits().at(analysis::SoakQuantity::level_step).hold);
}

}  // namespace
}  // namespace afterload::runner
