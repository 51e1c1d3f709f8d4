// The parts of a soak one by one: consent, what is cut out of the stream, when what is due.
#include "analysis/soak/reaction.hpp"
#include "runner/soak/event_capture.hpp"
#include "runner/soak/soak_consent.hpp"
#include "runner/soak/soak_observer.hpp"
#include "runner/soak/soak_schedule.hpp"
#include "sequences/soak.hpp"
#include "tests/support/simulated_run.hpp"

#include <gmock/gmock.h>

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
