// Hours at a healthy unit: no false alarm, and memory that does not grow.
#include "tests/analysis/soak/soak_bench.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <sys/resource.h>

namespace afterload::analysis::test {
namespace {

constexpr double rate = 48000.0;

double peak_mebibytes() {
    rusage usage{};
    getrusage(RUSAGE_SELF, &usage);
    return static_cast<double>(usage.ru_maxrss) / 1024.0;
}

TEST(LongSoak, HourOfPinkNoiseAtAHealthyUnitHasNoEventInMemoryThatDoesNotGrow) {
    SoakBench bench{rate, [noise = PinkNoise{rate, 1}]() mutable { return 0.2 * noise(); },
                    a_signal(), 480};
    bench.play(60.0);
    const double after_a_minute = peak_mebibytes();
    bench.play(3540.0);
    bench.finish();
    EXPECT_THAT(bench.events, testing::IsEmpty());
    // The bench keeps a reading a second, some hundred bytes each.
    EXPECT_LT(peak_mebibytes(), after_a_minute + 4.0);
}

class LongSoakOfMusic : public testing::TestWithParam<std::uint64_t> {};
INSTANTIATE_TEST_SUITE_P(Tunes, LongSoakOfMusic, testing::Range<std::uint64_t>(1, 5));

TEST_P(LongSoakOfMusic, HourAtAHealthyUnitHasNoEvent) {
    SoakBench bench{rate, [music = MusicLike{rate, GetParam()}]() mutable { return 0.2 * music(); },
                    a_signal(), 480};
    bench.play(3600.0);
    bench.finish();
    EXPECT_THAT(bench.events, testing::IsEmpty());
}

}  // namespace
}  // namespace afterload::analysis::test
