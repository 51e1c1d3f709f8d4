#include "tests/support/failing_bench.hpp"

#include "instruments/simulated_bench.hpp"
#include "tests/instruments/finish.hpp"

#include <gtest/gtest.h>

namespace afterload::test {
namespace {

using instruments::BenchFailure;
using instruments::MeterQuantity;
using instruments::open_simulated_bench;
using instruments::probe::finish;

/// One of every operation, in order: connect, select, set, play, record, read, mute, release.
std::vector<bool> one_of_each(FailingBench& bench) {
    std::vector<bool> done;
    done.push_back(finish(bench.load().connect(Ohms{8.0})).has_value());
    done.push_back(finish(bench.range_switch().select("quiet")).has_value());
    done.push_back(finish(bench.hands()->set("volume", "-20 dB")).has_value());
    done.push_back(
        finish(bench.source().play(tone(Hertz{997.0}, VoltsRms{0.01}, true, true))).has_value());
    done.push_back(finish(bench.capture().record(Seconds{0.05})).has_value());
    done.push_back(
        finish(bench.meter()->read(MeterQuantity::dc_offset, Channels::left)).has_value());
    done.push_back(finish(bench.source().mute()).has_value());
    done.push_back(finish(bench.load().release()).has_value());
    return done;
}

TEST(FailingBench, FailsExactlyTheOperationThatWasPlanned) {
    for (std::size_t n = 0; n <= 8; ++n) {
        FailingBench bench{open_simulated_bench({}), {n, BenchFailure::Kind::lost, false, false}};
        const std::vector<bool> done = one_of_each(bench);
        ASSERT_EQ(done.size(), 8U);
        for (std::size_t i = 0; i < 8; ++i) {
            EXPECT_EQ(done[i], i + 1 != n) << n << ", " << i;
        }
        EXPECT_EQ(bench.ledger()->operations.size(), 8U);
    }
}

TEST(FailingBench, TellsHowTheBenchWasLeft) {
    FailingBench muting{open_simulated_bench({}), {7, BenchFailure::Kind::no_reply, false, false}};
    const auto ledger = muting.ledger();
    (void)one_of_each(muting);
    EXPECT_FALSE(ledger->state.muted);
    EXPECT_FALSE(ledger->state.load_connected);
    EXPECT_EQ(ledger->state.range, "quiet");
    EXPECT_EQ(ledger->failed, "mute");
    FailingBench releasing{open_simulated_bench({}),
                           {8, BenchFailure::Kind::no_reply, false, false}};
    (void)one_of_each(releasing);
    EXPECT_TRUE(releasing.ledger()->state.muted);
    EXPECT_TRUE(releasing.ledger()->state.load_connected);
}

TEST(FailingBench, InstrumentThatIsGoneStaysAway) {
    FailingBench bench{open_simulated_bench({}), {4, BenchFailure::Kind::lost, true, false}};
    const std::vector<bool> done = one_of_each(bench);
    EXPECT_FALSE(done[3]);  // play
    EXPECT_FALSE(done[6]);  // mute, of the same source
    EXPECT_TRUE(done[4]);
    EXPECT_TRUE(done[7]);
}

TEST(FailingBench, LostAnswerMayHideThatItWasDone) {
    FailingBench bench{open_simulated_bench({}), {4, BenchFailure::Kind::no_reply, false, true}};
    EXPECT_TRUE(finish(bench.load().connect(Ohms{8.0})));
    EXPECT_TRUE(finish(bench.range_switch().select("quiet")));
    EXPECT_TRUE(finish(bench.hands()->set("volume", "-20 dB")));
    EXPECT_FALSE(finish(bench.source().play(tone(Hertz{997.0}, VoltsRms{0.01}, true, true))));
    EXPECT_FALSE(bench.ledger()->state.muted);
}

}  // namespace
}  // namespace afterload::test
