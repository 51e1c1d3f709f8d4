#include "sequences/bench_reader.hpp"

#include "tests/sequences/file_text.hpp"

#include <gtest/gtest.h>

#include <array>
#include <string>

namespace afterload::sequences {
namespace {

BenchFile read(const std::filesystem::path& path) {
    auto bench = read_bench(file_text(path), path.string());
    EXPECT_TRUE(bench.has_value()) << (bench ? "" : text(bench.error()));
    return bench.value_or(BenchFile{});
}

TEST(BenchReader, ReadsTheSimulatedBench) {
    const BenchFile bench = read(source_path("fixtures/benches/north.bench.yaml"));
    EXPECT_EQ(bench.name, "north");
    ASSERT_TRUE(bench.simulated.has_value());
    EXPECT_EQ(bench.simulated->unit_seed, 7U);
    EXPECT_EQ(bench.simulated->run_seed, 42U);
    EXPECT_TRUE(bench.simulated->warm);
    EXPECT_EQ(bench.simulated->power, Watts{40.0});
    EXPECT_EQ(bench.simulated->line_gain, Gain{41.5});
    EXPECT_DOUBLE_EQ(bench.simulated->clock_ppm.value_or(0.0), 12.0);
    EXPECT_NEAR(bench.simulated->source_distortion.value_or(AmplitudeRatio{}).in<AmplitudeRatio>(),
                3.1623e-6, 1e-10);
    EXPECT_EQ(bench.card.rate, SampleRate{192e3});
    EXPECT_EQ(bench.source.calibration_id, "source 2026-03-02");
    EXPECT_DOUBLE_EQ(bench.source.level_u_k1, 0.004);
    ASSERT_EQ(bench.ranges.size(), 2U);
    EXPECT_EQ(bench.ranges[0].full_scale, VoltsPeak{50.0});
    EXPECT_EQ(bench.ranges[1].switched, Switching::relay);
    ASSERT_EQ(bench.ranges[0].own_distortion.size(), 3U);
    EXPECT_EQ(bench.ranges[0].own_distortion[2].at, VoltsRms{18.0});
    ASSERT_EQ(bench.loads.size(), 2U);
    EXPECT_EQ(bench.loads[1].channel, Channels::right);
    EXPECT_DOUBLE_EQ(bench.loads[1].temperature_coefficient, 180e-6);
    EXPECT_EQ(bench.loads[0].short_time, Seconds{120.0});
    EXPECT_EQ(bench.limits.largest_output, Watts{60.0});
    EXPECT_TRUE(bench.sense_grounded);
}

TEST(BenchReader, ReadsTheFaultsOfTheUnitAsItCameIn) {
    const BenchFile bench = read(source_path("fixtures/benches/north-as-received.bench.yaml"));
    ASSERT_EQ(bench.simulated.value_or(SimulationEntry{}).faults.size(), 2U);
    EXPECT_EQ(bench.simulated->faults[0].fault, "starved_bias");
    EXPECT_EQ(bench.simulated->faults[0].channel, Channels::left);
    EXPECT_EQ(bench.simulated->faults[1].fault, "dried_coupling_capacitor");
    EXPECT_EQ(bench.simulated->faults[1].channel, Channels::right);
}

TEST(BenchReader, BothBenchesOfTheDemonstrationDifferInTheirFaultsAndNamesAlone) {
    BenchFile before = read(source_path("fixtures/benches/north-as-received.bench.yaml"));
    const BenchFile after = read(source_path("fixtures/benches/north.bench.yaml"));
    EXPECT_EQ(before.simulated->unit_seed, after.simulated->unit_seed);
    EXPECT_EQ(before.simulated->rig_seed, after.simulated->rig_seed);
    EXPECT_EQ(before.card.rate, after.card.rate);
    EXPECT_EQ(before.ranges.size(), after.ranges.size());
    EXPECT_TRUE(after.simulated->faults.empty());
}

TEST(BenchReader, TakesAnyFaultUnlessItIsToldTheKnownOnes) {
    const std::string text =
        file_text(source_path("fixtures/benches/north-as-received.bench.yaml"));
    EXPECT_TRUE(read_bench(text, "a").has_value());
    constexpr std::array<std::string_view, 2> known{"starved_bias", "dead_channel"};
    const auto bench = read_bench(text, "a", known);
    ASSERT_FALSE(bench.has_value());
    ASSERT_EQ(bench.error().count(), 1U);
    EXPECT_NE(bench.error().mistakes[0].what.find("dried_coupling_capacitor"), std::string::npos);
}

TEST(BenchReader, FaultMayBeginAtATimeOrAboveATemperature) {
    std::string text = file_text(source_path("fixtures/benches/north-as-received.bench.yaml"));
    text.replace(text.find("severity: 0.8"), 13, "begins: 20 min\n      above: 47 degC");
    const auto bench = read_bench(text, "a");
    ASSERT_TRUE(bench.has_value()) << afterload::sequences::text(bench.error());
    EXPECT_EQ(bench->simulated->faults[0].begins, Seconds{1200.0});
    EXPECT_EQ(bench->simulated->faults[0].above, Celsius{47.0});
}

TEST(BenchReader, AllBenchesOfTheFixturesRead) {
    for (const auto& path : files_of("fixtures/benches", ".bench.yaml")) {
        (void)read(path);
    }
}

}  // namespace
}  // namespace afterload::sequences
