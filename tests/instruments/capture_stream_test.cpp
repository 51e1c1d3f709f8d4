// A record without an end on the simulated bench.
#include "instruments/capture_stream.hpp"

#include "instruments/simulated_bench.hpp"
#include "tests/instruments/finish.hpp"

#include <gtest/gtest.h>

#include <memory>
#include <vector>

namespace afterload::instruments {
namespace {

using probe::finish;

std::unique_ptr<SimulatedBench> playing_bench(std::vector<SimulatedFault> faults = {}) {
    Simulation simulation;
    simulation.rate = SampleRate{32000.0};
    simulation.faults = std::move(faults);
    auto bench = open_simulated_bench(simulation);
    EXPECT_TRUE(finish(bench->load().connect(Ohms{8.0})).has_value());
    EXPECT_TRUE(
        finish(bench->source().play(tone(Hertz{997.0}, VoltsRms{0.05}, true, true))).has_value());
    return bench;
}

TEST(CaptureStream, ItsBlocksBackToBackAreTheSamplesOfOneRecord) {
    const auto whole = playing_bench();
    const auto record = finish(whole->capture().record(Seconds{1.0}));
    ASSERT_TRUE(record.has_value());
    const auto bench = playing_bench();
    auto stream = finish(bench->capture().stream());
    ASSERT_TRUE(stream.has_value());
    CapturedBlock block;
    std::vector<std::int32_t> left;
    std::int64_t expected = 0;
    for (int i = 0; i < 10; ++i) {
        ASSERT_TRUE(finish((*stream)->next(Frames{3200}, block)).has_value());
        EXPECT_EQ(block.first, expected);
        expected += 3200;
        EXPECT_EQ(block.came_by, bench->clock().now());
        left.insert(left.end(), block.channels[0].begin(), block.channels[0].end());
    }
    EXPECT_EQ(left, record->record.channels[0]);
    EXPECT_EQ((*stream)->calibration().size(), 2U);
    EXPECT_EQ((*stream)->bits(), 24);
}

TEST(CaptureStream, LetsWhatPlaysChangeBetweenBlocks) {
    const auto bench = playing_bench();
    auto stream = finish(bench->capture().stream());
    ASSERT_TRUE(stream.has_value());
    CapturedBlock block;
    for (int i = 0; i < 10; ++i) {
        ASSERT_TRUE(finish((*stream)->next(Frames{3200}, block)).has_value());
    }
    ASSERT_TRUE(finish(bench->source().mute()).has_value());
    for (int i = 0; i < 5; ++i) {
        ASSERT_TRUE(finish((*stream)->next(Frames{3200}, block)).has_value());
    }
    std::int32_t largest = 0;
    for (const std::int32_t sample : block.channels[0]) {
        largest = std::max(largest, std::abs(sample));
    }
    EXPECT_LT(largest, 1 << 14);  // of 2^23: noise and hum
}

TEST(CaptureStream, FailsWhenTheCardIsLostInItsMiddle) {
    SimulatedFault lost;
    lost.name = "lost_card";
    lost.begins = Seconds{0.55};
    const auto bench = playing_bench({lost});
    auto stream = finish(bench->capture().stream());
    ASSERT_TRUE(stream.has_value());
    CapturedBlock block;
    int blocks = 0;
    BenchResult<void> came;
    while (blocks < 20 && (came = finish((*stream)->next(Frames{3200}, block)))) {
        ++blocks;
    }
    ASSERT_FALSE(came.has_value());
    EXPECT_EQ(came.error().kind, BenchFailure::Kind::lost);
    EXPECT_GE(blocks, 5);
    EXPECT_LE(blocks, 6);
    // Its playing is not lost at this severity, and can be muted.
    EXPECT_TRUE(finish(bench->source().mute()).has_value());
    EXPECT_FALSE(bench->strain().driven);
}

TEST(CaptureStream, ALostCardAtItsWorstDoesNotAnswerAMuteAndTheMainsCanBeOpened) {
    SimulatedFault lost;
    lost.name = "lost_card";
    lost.severity = 1.0;
    lost.begins = Seconds{0.2};
    const auto bench = playing_bench({lost});
    finish(bench->clock().sleep(Seconds{0.5}));
    EXPECT_FALSE(finish(bench->source().mute()).has_value());
    ASSERT_NE(bench->mains_switch(), nullptr);
    EXPECT_TRUE(finish(bench->mains_switch()->open()).has_value());
    EXPECT_FALSE(bench->strain().powered);
}

TEST(CaptureStream, SensorsOfOneSinkAreEachAReadingOfTheirOwn) {
    Simulation simulation;
    simulation.rate = SampleRate{32000.0};
    simulation.sink_sensors = 2;
    SimulatedFault off;
    off.name = "disagreeing_sensor";
    off.severity = 0.5;
    simulation.faults = {off};
    const auto bench = open_simulated_bench(simulation);
    const auto members = bench->meter()->members();
    ASSERT_EQ(members.size(), 2U);
    const auto first = finish(members[0]->read(MeterQuantity::heat_sink, Channels::left));
    const auto second = finish(members[1]->read(MeterQuantity::heat_sink, Channels::left));
    ASSERT_TRUE(first.has_value() && second.has_value());
    EXPECT_NEAR(second->value - first->value, 18.0, 3.0);
}

}  // namespace
}  // namespace afterload::instruments
