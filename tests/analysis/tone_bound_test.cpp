// How near the fit comes to the Cramér-Rao bound (tone_bound.hpp). 600 draws know a deviation to
// 1/√1200 = 2.9 %: at most 1.1 of the bound, and three of those.
#include "tests/analysis/tone_bound.hpp"

#include <gtest/gtest.h>

#include <string>

namespace afterload::analysis {
namespace {

using test::BoundCase;
using test::over_bound;

void expect_near_bound(const BoundCase& one) {
    const auto ratio = over_bound(one);
    ASSERT_TRUE(ratio);
    const double most = 1.1 + 3.0 / std::sqrt(2.0 * one.draws);
    const double least = 1.0 - 3.5 / std::sqrt(2.0 * one.draws);  // less is too good to be true
    for (const double found : {ratio->amplitude, ratio->frequency, ratio->third}) {
        EXPECT_LT(found, most);
        EXPECT_GT(found, least);
    }
    // And what it states is what it does.
    EXPECT_NEAR(ratio->stated_amplitude, 1.0, 0.12);
    EXPECT_NEAR(ratio->stated_frequency, 1.0, 0.12);
    testing::Test::RecordProperty("amplitude", std::to_string(ratio->amplitude));
    testing::Test::RecordProperty("frequency", std::to_string(ratio->frequency));
    testing::Test::RecordProperty("third", std::to_string(ratio->third));
}

TEST(ToneBound, IsReachedAtFortyDecibels) {
    expect_near_bound({0.1, 997.0, 200.0, 40.0, false});
}
TEST(ToneBound, IsReachedAtSixtyDecibels) {
    expect_near_bound({0.05, 997.0, 200.0, 60.0, false});
}
TEST(ToneBound, IsReachedAtHundredDecibels) {
    expect_near_bound({0.05, 997.0, 200.0, 100.0, false});
}
TEST(ToneBound, IsReachedAtHundredAndTwentyDecibels) {
    expect_near_bound({0.2, 997.0, 200.0, 120.0, false});
}
TEST(ToneBound, IsReachedAtSixtyDecibelsBesideHum) {
    expect_near_bound({0.2, 997.0, 200.0, 60.0, true});
}
TEST(ToneBound, IsReachedAtHundredDecibelsBesideHum) {
    expect_near_bound({0.2, 997.0, 200.0, 100.0, true});
}
TEST(ToneBound, IsReachedAtSevenKilohertz) {
    expect_near_bound({0.2, 6667.0, 200.0, 100.0, false});
}
TEST(ToneBound, IsReachedInTenMilliseconds) {
    expect_near_bound({0.01, 1997.0, 200.0, 60.0, false});
}
// Half a period of the mains: a slow curve, not a line.
TEST(ToneBound, IsReachedInTenMillisecondsBesideHum) {
    expect_near_bound({0.01, 1997.0, 200.0, 100.0, true});
}
// A curve of unknown shape in the place of the hum costs something while the tone has few periods.
TEST(ToneBound, IsReachedInTwelvePeriodsBesideAPeriodOfHum) {
    expect_near_bound({0.0204, 614.0, 200.0, 80.0, true});
}

// With still fewer periods the bound, which knows of no hum, is left behind; what is stated goes
// along.
TEST(ToneBound, IsNotClaimedWithFewPeriodsBesideAPeriodOfHum) {
    for (const double seconds : {0.0101, 0.0204, 0.023}) {
        for (const double periods : {6.0, 8.0, 9.5, 10.0}) {
            for (const double snr_db : {60.0, 80.0, 100.0}) {
                SCOPED_TRACE(std::to_string(seconds) + " s, " + std::to_string(periods) +
                             " periods, " + std::to_string(snr_db) + " dB");
                const auto ratio =
                    over_bound({seconds, periods / seconds, 200.0, snr_db, true, 300});
                ASSERT_TRUE(ratio);
                // The deviation of 300 draws is known to 4.1 %: three of those and 5 %.
                EXPECT_NEAR(ratio->stated_amplitude, 1.0, 0.17);
                EXPECT_NEAR(ratio->stated_frequency, 1.0, 0.17);
            }
        }
    }
}

}  // namespace
}  // namespace afterload::analysis
