#include "instruments/simulated_bench.hpp"

#include "tests/instruments/finish.hpp"
#include "tests/instruments/probe.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <limits>
#include <stdexcept>
#include <string>
#include <utility>
#include <vector>

namespace afterload::instruments {
namespace {

using namespace probe;

using Turns = std::vector<std::pair<std::string, std::string>>;

Captured captured(Bench& bench, double seconds) {
    BenchResult<Captured> result = finish(bench.capture().record(Seconds{seconds}));
    EXPECT_TRUE(result.has_value());
    return result ? *result : Captured{};
}

void play(Bench& bench, double hertz, double volts) {
    EXPECT_TRUE(finish(bench.source().play(tone(Hertz{hertz}, VoltsRms{volts}, true, true))));
}

TEST(SimulatedBench, OpensMutedUnloadedAndOnItsSafestRange) {
    Simulation simulation;
    simulation.ranges = {{"low", VoltsPeak{4.0}, VoltsPeak{5.0}, {}},
                         {"high", VoltsPeak{50.0}, VoltsPeak{60.0}, {}}};
    const auto bench = open_simulated_bench(simulation);
    EXPECT_FALSE(bench->load().connected());
    EXPECT_EQ(bench->range_switch().selected(), "high");
    EXPECT_FALSE(bench->strain().driven);
    const Captured quiet = captured(*bench, 0.2);
    EXPECT_EQ(quiet.record.calibration[0].full_scale.in<VoltsPeak>(), 50.0);
    EXPECT_EQ(quiet.record.length().count(), 9600);
    EXPECT_LT(bench->strain().worst_output, 0.01);
}

TEST(SimulatedBench, SameSettingsGiveTheSameBytes) {
    const auto bytes = [](std::uint64_t run_seed) {
        Simulation simulation;
        simulation.run_seed = run_seed;
        const auto bench = open_simulated_bench(simulation);
        (void)finish(bench->load().connect(Ohms{8.0}));
        play(*bench, 997.0, 0.1);
        finish(bench->clock().sleep(Seconds{30.0}));
        return captured(*bench, 2.0).record.channels;
    };
    EXPECT_EQ(bytes(1), bytes(1));
    EXPECT_NE(bytes(1), bytes(2));
}

TEST(SimulatedBench, RecordingInPiecesSkipsNoSample) {
    const auto bench = open_simulated_bench(clean_rig());
    (void)finish(bench->load().connect(Ohms{8.0}));
    play(*bench, 1000.0, 0.05);
    finish(bench->clock().sleep(Seconds{1.0}));
    std::vector<double> x;
    for (const double piece : {0.1, 0.013, 0.887}) {
        const Captured part = captured(*bench, piece);
        for (const std::int32_t sample : part.record.channels[0]) {
            x.push_back(sample);
        }
    }
    ASSERT_EQ(x.size(), 48000U);
    // A slip of one sample would leave a skirt of some −20 dB around the tone.
    EXPECT_LT(decibels(std::abs(line(x, 1003.0)) / std::abs(line(x, 1000.0))), -100.0);
}

TEST(SimulatedBench, TimeMovesOnlyWhileSomebodySleepsOrRecords) {
    Simulation simulation;
    simulation.clock_ppm = 0.0;
    const auto bench = open_simulated_bench(simulation);
    EXPECT_EQ(bench->clock().now().in<Seconds>(), 0.0);
    play(*bench, 997.0, 0.1);
    EXPECT_EQ(bench->clock().now().in<Seconds>(), 0.0);
    finish(bench->clock().sleep(Seconds{0.25}));
    EXPECT_NEAR(bench->clock().now().in<Seconds>(), 0.25, 1e-12);
    finish(bench->clock().sleep(Seconds{-1.0}));
    (void)captured(*bench, 0.5);
    EXPECT_NEAR(bench->clock().now().in<Seconds>(), 0.75, 1e-12);
    finish(bench->clock().sleep(Seconds{3600.0}));
    EXPECT_NEAR(bench->clock().now().in<Seconds>(), 3600.75, 1e-9);
    for (int i = 0; i < 1000; ++i) {
        finish(bench->clock().sleep(Seconds{1e-6}));
    }
    EXPECT_NEAR(bench->clock().now().in<Seconds>(), 3600.751, 1e-9);
}

TEST(SimulatedBench, AnHourAtAThirdOfRatedHeatsSinkAndLoad) {
    Simulation simulation = clean_rig();
    simulation.loads[0].temperature_coefficient = 180e-6;
    const auto bench = open_simulated_bench(simulation);
    (void)finish(bench->load().connect(Ohms{8.0}));
    const auto read = [&bench](MeterQuantity quantity) {
        return finish(bench->meter()->read(quantity, Channels::left))->value;
    };
    const double cold = read(MeterQuantity::heat_sink);
    play(*bench, 997.0, drive_for(20.0));
    finish(bench->clock().sleep(Seconds{3600.0}));
    // Class B from rails of some 38.5 V: 2/π·V·Vp/R − Vp²/(2R) = 34.8 W beyond idle, 0.9 K/W, four
    // time constants; three spreads of 10 %.
    EXPECT_NEAR(read(MeterQuantity::heat_sink) - cold, 0.98 * 0.9 * 34.8, 9.0);
    EXPECT_NEAR(read(MeterQuantity::load_temperature), 22.0 + 0.7 * 20.0, 2.5);
    EXPECT_LT(read(MeterQuantity::main_rail), 42.5);
    const double joules = bench->strain().into_left.in<Joules>();
    EXPECT_NEAR(joules / 3600.0, 20.0, 2.0);
}

TEST(SimulatedBench, ColdUnitComesToItsBiasInHalfAnHour) {
    Simulation simulation = clean_rig();
    simulation.warm = false;
    const auto cold = open_simulated_bench(simulation);
    simulation.warm = true;
    const auto warm = open_simulated_bench(simulation);
    const auto bias = [](Bench& bench) {
        return finish(bench.meter()->read(MeterQuantity::emitter_voltage, Channels::left))->value;
    };
    EXPECT_NEAR(bias(*cold) / bias(*warm), 0.7, 0.05);
    finish(cold->clock().sleep(Seconds{1800.0}));
    EXPECT_NEAR(bias(*cold) / bias(*warm), 1.03, 0.05);
    finish(cold->clock().sleep(Seconds{7200.0}));
    EXPECT_NEAR(bias(*cold) / bias(*warm), 1.0, 0.03);
}

TEST(SimulatedBench, RefusesWhatItCannotDo) {
    const auto bench = open_simulated_bench({});
    const auto too_loud =
        finish(bench->source().play(tone(Hertz{997.0}, VoltsRms{2.1}, true, true)));
    ASSERT_FALSE(too_loud);
    EXPECT_EQ(too_loud.error().kind, BenchFailure::Kind::refused);
    EXPECT_FALSE(bench->strain().driven);
    EXPECT_FALSE(finish(bench->source().play(tone(Hertz{30e3}, VoltsRms{0.1}, true, true))));
    const double nan = std::numeric_limits<double>::quiet_NaN();
    EXPECT_FALSE(finish(bench->source().play(tone(Hertz{997.0}, VoltsRms{nan}, true, true))));
    EXPECT_FALSE(finish(bench->range_switch().select("nowhere")));
    EXPECT_FALSE(finish(bench->capture().record(Seconds{0.0})));
    EXPECT_FALSE(finish(bench->capture().record(Seconds{1e9})));
    EXPECT_FALSE(finish(bench->meter()->read(MeterQuantity::dc_offset, Channels::both)));
    for (const auto& [control, position] : Turns{{"volume", "loud"},
                                                 {"volume", "20 dB"},
                                                 {"volume", "-20"},
                                                 {"path", "flat"},
                                                 {"balance", "left"},
                                                 {"range", "nowhere"},
                                                 {"speakers", "C"}}) {
        EXPECT_FALSE(finish(bench->hands()->set(control, position))) << control << ' ' << position;
    }
}

Stimulus swept(double low, double high, double peak) {
    Stimulus stimulus;
    const Sweep sweep{Hertz{low},   Hertz{high},   Seconds{0.05}, VoltsPeak{peak},
                      Seconds{0.1}, Seconds{0.01}, Seconds{0.005}};
    const Burst pilot{
        {Hertz{997.0}, VoltsPeak{peak}, Radians{0.0}}, Seconds{0.0}, Seconds{0.08}, Seconds{0.01}};
    stimulus.bursts = {{{pilot}, {pilot}}};
    stimulus.sweeps = {{{sweep}, {sweep}}};
    return stimulus;
}

TEST(SimulatedBench, ASweepIsHeardInItsTimeAndThenThereIsSilence) {
    const auto bench = open_simulated_bench(clean_rig());
    (void)finish(bench->load().connect(Ohms{8.0}));
    ASSERT_TRUE(finish(bench->source().play(swept(50.0, 5000.0, 0.05))));
    const Captured record = captured(*bench, 0.6);
    const auto loudest = [&](double from, double to) {
        std::int32_t peak = 0;
        const auto end = static_cast<std::size_t>(to * 48000.0);
        for (auto n = static_cast<std::size_t>(from * 48000.0); n < end; ++n) {
            peak = std::max(peak, std::abs(record.record.channels[0][n]));
        }
        return static_cast<double>(peak);
    };
    // The sweep lasts 0.05 · ln 100 = 0.23 s from 0.1 s on; latencies are milliseconds.
    EXPECT_GT(loudest(0.02, 0.07), 1000.0 * loudest(0.5, 0.6));
    EXPECT_NEAR(loudest(0.12, 0.3) / loudest(0.02, 0.07), 1.0, 0.05);
    EXPECT_LT(loudest(0.088, 0.098), 0.05 * loudest(0.02, 0.07));
}

TEST(SimulatedBench, RefusesASweepThatIsTooLoudOrTooHigh) {
    const auto bench = open_simulated_bench(clean_rig());
    const double full_scale = bench->source().full_scale().in<VoltsPeak>();
    const auto taken = [&](const Stimulus& stimulus) {
        return finish(bench->source().play(stimulus)).has_value();
    };
    // Pilot and sweep do not sound together: each may reach full scale.
    EXPECT_TRUE(taken(swept(50.0, 5000.0, full_scale)));
    EXPECT_FALSE(taken(swept(50.0, 5000.0, 1.001 * full_scale)));
    EXPECT_FALSE(taken(swept(50.0, 24001.0, 0.1)));
    EXPECT_FALSE(taken(swept(5000.0, 50.0, 0.1)));
    Stimulus beside_a_tone = swept(50.0, 5000.0, 0.6 * full_scale);
    beside_a_tone.channels[1] = {{Hertz{997.0}, VoltsPeak{0.6 * full_scale}, Radians{0.0}}};
    EXPECT_FALSE(taken(beside_a_tone));
}

TEST(SimulatedBench, HandsKnowTheirControls) {
    const auto bench = open_simulated_bench({});
    for (const auto& [control, position] :
         Turns{{"volume", "maximum"}, {"volume", "zero"},      {"volume", "-20 dB"},
               {"volume", "-40dB"},   {"path", "tone"},        {"path", "direct"},
               {"tone", "defeat"},    {"tone", "flat"},        {"bass", "maximum"},
               {"bass", "centre"},    {"treble", "minimum"},   {"input", "phono"},
               {"input", "line"},     {"speakers", "B"},       {"speakers", "A"},
               {"output", "pre_out"}, {"output", "speaker_b"}, {"output", "headphone"},
               {"range", "quiet"},    {"range", "power"}}) {
        EXPECT_TRUE(finish(bench->hands()->set(control, position))) << control << ' ' << position;
    }
    EXPECT_EQ(bench->range_switch().selected(), "power");
}

TEST(SimulatedBench, MutingIsSilenceWithinAFilterLength) {
    const auto bench = open_simulated_bench(clean_rig());
    (void)finish(bench->load().connect(Ohms{8.0}));
    play(*bench, 997.0, drive_for(20.0));
    finish(bench->clock().sleep(Seconds{1.0}));
    EXPECT_TRUE(bench->strain().driven);
    EXPECT_TRUE(finish(bench->source().mute()));
    EXPECT_TRUE(finish(bench->source().mute()));
    EXPECT_FALSE(bench->strain().driven);
    finish(bench->clock().sleep(Seconds{0.5}));
    const Captured after = captured(*bench, 0.1);
    for (const std::int32_t sample : after.record.channels[0]) {
        EXPECT_LT(std::abs(sample) * 50.0 / 8388608.0, 0.03);
    }
}

// 0.1 mV a moment after a loud tone: whatever the source still holds of that, nothing is louder.
TEST(SimulatedBench, AQuietToneAfterALoudOneBringsNoClick) {
    const auto bench = open_simulated_bench(Simulation{});
    (void)finish(bench->load().connect(Ohms{8.0}));
    play(*bench, 997.0, drive_for(5.0));
    finish(bench->clock().sleep(Seconds{0.5}));
    const double before = bench->strain().worst_output;
    EXPECT_TRUE(finish(bench->source().mute()));
    play(*bench, 997.0, 1e-4);
    finish(bench->clock().sleep(Seconds{0.5}));
    EXPECT_LE(bench->strain().worst_output, 1.02 * before);
}

TEST(SimulatedBench, SettingsOutsideTheirRangeAreRefused) {
    const auto refused = [](auto change) {
        Simulation simulation;
        change(simulation);
        EXPECT_THROW((void)open_simulated_bench(simulation), std::invalid_argument);
    };
    refused([](Simulation& s) { s.ranges.clear(); });
    refused([](Simulation& s) { s.bits = 8; });
    refused([](Simulation& s) { s.rate = SampleRate{8000.0}; });
    refused([](Simulation& s) { s.power = Watts{0.0}; });
    refused([](Simulation& s) { s.load = Ohms{-8.0}; });
    refused([](Simulation& s) { s.mains_voltage = 0.0; });
    refused([](Simulation& s) { s.faults = {{"bad_karma", Channels::both, 0.5, {}, {}}}; });
}

TEST(SimulatedBench, RunsAtEveryCommonRate) {
    for (const double rate : {32000.0, 44100.0, 48000.0, 88200.0, 96000.0, 176400.0, 192000.0}) {
        Simulation simulation = clean_rig();
        simulation.rate = SampleRate{rate};
        Played played{simulation, 1000.0, drive_for(1.0)};
        const auto x = played.record();
        EXPECT_NEAR(rms_of_line(x[0], 1000.0, rate), std::sqrt(8.0), 0.15) << rate;
        EXPECT_LT(thd(x[0], 1000.0, 9, rate), 2e-4) << rate;
    }
}

}  // namespace
}  // namespace afterload::instruments
