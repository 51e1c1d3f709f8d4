// Digits follow the uncertainty (GUM 7.2.6: at most two digits of U, the value to the same place);
// the rest is the project's own way of writing.
#include "runner/papers/number_text.hpp"

#include "runner/papers/time_text.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <cstdlib>
#include <limits>

namespace afterload::runner {
namespace {

std::string with_u(double value, double u) {
    const int decimals = decimals_for(u).value_or(3);
    return fixed(value, decimals) + " ± " + fixed(u, decimals);
}

TEST(NumberText, UncertaintyHasTwoDigitsWhenItsFirstIsOneOrTwo) {
    EXPECT_EQ(with_u(0.42, 0.16), "0.42 ± 0.16");
    EXPECT_EQ(with_u(0.0162, 0.0022), "0.0162 ± 0.0022");
    EXPECT_EQ(with_u(97.9, 0.299), "97.90 ± 0.30");
}

TEST(NumberText, UncertaintyHasOneDigitElse) {
    EXPECT_EQ(with_u(0.0108, 0.0004), "0.0108 ± 0.0004");
    EXPECT_EQ(with_u(46.2, 0.7), "46.2 ± 0.7");
    EXPECT_EQ(with_u(118.3, 6.1), "118 ± 6");
}

TEST(NumberText, UncertaintyOfTensRoundsTheValueToTens) {
    EXPECT_EQ(with_u(1234.0, 42.0), "1230 ± 40");
}

TEST(NumberText, TrailingZerosAreKept) {
    EXPECT_EQ(with_u(0.09, 0.025), "0.090 ± 0.025");
}

TEST(NumberText, ZeroHasNoSign) {
    EXPECT_EQ(fixed(-0.0004, 2), "0.00");
    EXPECT_EQ(fixed(-0.004, 3), "-0.004");
}

TEST(NumberText, NoUncertaintyGivesNoDecimals) {
    EXPECT_EQ(decimals_for(0.0), std::nullopt);
    EXPECT_EQ(decimals_for(std::numeric_limits<double>::infinity()), std::nullopt);
    EXPECT_EQ(decimals_for(std::nan("")), std::nullopt);
}

TEST(NumberText, NeverRoundsOntoTheLimit) {
    Limit limit;
    limit.at_most = 0.05;
    EXPECT_EQ(fixed(0.04999, decimals_clear_of(0.04999, 3, limit)), "0.04999");
    EXPECT_EQ(fixed(0.0502, decimals_clear_of(0.0502, 3, limit)), "0.0502");
    EXPECT_EQ(fixed(0.047, decimals_clear_of(0.047, 3, limit)), "0.047");
}

TEST(NumberText, NeverRoundsAcrossTheLimit) {
    Limit limit;
    limit.at_least = 17.9;
    EXPECT_EQ(fixed(17.88, decimals_clear_of(17.88, 0, limit)), "17.88");
    limit.at_least = 80.0;
    EXPECT_EQ(fixed(79.6, decimals_clear_of(79.6, 0, limit)), "79.6");
    EXPECT_EQ(fixed(76.0, decimals_clear_of(76.0, -1, limit)), "76");
}

TEST(NumberText, ValueOnTheLimitStaysOnIt) {
    Limit limit;
    limit.at_most = 0.05;
    EXPECT_EQ(decimals_clear_of(0.05, 2, limit), 2);
    // 0.0005 * 100 is not 0.05 to the last bit.
    EXPECT_EQ(decimals_clear_of(0.0005 * 100.0, 2, limit), 2);
}

TEST(NumberText, SideOfTheLimitIsKeptForManyValues) {
    Limit limit;
    limit.at_most = 1.0;
    for (int i = -2000; i <= 2000; ++i) {
        const double value = 1.0 + i * 1e-5;
        if (i == 0) {
            continue;
        }
        const double written =
            std::strtod(fixed(value, decimals_clear_of(value, 1, limit)).c_str(), nullptr);
        EXPECT_EQ(value < 1.0, written < 1.0) << value;
        EXPECT_NE(written, 1.0) << value;
    }
}

TEST(NumberText, PrefixFollowsTheLimit) {
    EXPECT_EQ(shown_unit(FigureKind::dc_offset, 0.03).symbol, "mV");
    EXPECT_EQ(shown_unit(FigureKind::hum_voltage, 0.0003).symbol, "mV");
    EXPECT_EQ(shown_unit(FigureKind::noise_voltage, 2e-5).symbol, "µV");
    EXPECT_EQ(shown_unit(FigureKind::output_voltage, 17.9).symbol, "V");
    EXPECT_EQ(shown_unit(FigureKind::thd, 0.0005).symbol, "%");
    EXPECT_EQ(shown_unit(FigureKind::bandwidth_high, 40000.0).symbol, "kHz");
    EXPECT_EQ(shown_unit(FigureKind::damping_factor, 80.0).symbol, "");
    EXPECT_EQ(shown_unit(FigureKind::output_impedance, 0.022).symbol, "mΩ");
}

TEST(NumberText, LimitsAreWrittenWithTheirDirection) {
    EXPECT_EQ(limit_text({40.0, std::nullopt, std::nullopt}), "≥ 40");
    EXPECT_EQ(limit_text({std::nullopt, 0.05, std::nullopt}), "≤ 0.05");
    EXPECT_EQ(limit_text({-1.0, 1.0, std::nullopt}), "± 1");
    EXPECT_EQ(limit_text({-1.0, 1.0, 0.0}), "± 1");
    EXPECT_EQ(limit_text({34.6, 36.6, 35.6}), "35.6 ± 1");
    EXPECT_EQ(limit_text({-3.0, 0.5, 0.0}), "-3 to 0.5");
    EXPECT_EQ(limit_text({std::nullopt, 0.0005 * 100.0, std::nullopt}), "≤ 0.05");
}

TEST(NumberText, QuantitiesTakeTheirPrefix) {
    EXPECT_EQ(quantity_text(8.0, "Ω"), "8 Ω");
    EXPECT_EQ(quantity_text(47000.0, "Ω"), "47 kΩ");
    EXPECT_EQ(quantity_text(19.7, "Hz"), "19.7 Hz");
    EXPECT_EQ(quantity_text(20000.0, "Hz"), "20 kHz");
    EXPECT_EQ(quantity_text(0.0091, "V", 3), "9.1 mV");
    EXPECT_EQ(quantity_text(-0.62, "dB", 3), "-0.62 dB");
}

TEST(NumberText, PageUsesTheTrueMinusAndNarrowSpaces) {
    EXPECT_EQ(page("-0.31"), "\u22120.31");
    EXPECT_EQ(page("46.2 W"), "46.2\u202fW");
    EXPECT_EQ(page("0.05 %"), "0.05\u202f%");
    EXPECT_EQ(page("22 °C"), "22\u202f°C");
    EXPECT_EQ(page("35.6 ± 1 dB"), "35.6\u202f±\u202f1\u202fdB");
    EXPECT_EQ(page("≥ 40"), "≥\u202f40");
}

TEST(NumberText, PageGroupsFromTenThousandOn) {
    EXPECT_EQ(page("9999"), "9999");
    EXPECT_EQ(page("10000"), "10\u202f000");
    EXPECT_EQ(page("1234567.25"), "1\u202f234\u202f567.25");
}

TEST(NumberText, PageLeavesWordsSerialsAndDatesAlone) {
    EXPECT_EQ(page("2026-03-12"), "2026-03-12");
    EXPECT_EQ(page("HF40-01873"), "HF40-01873");
    EXPECT_EQ(page("step 4 was skipped"), "step 4 was skipped");
    EXPECT_EQ(page("0.000012345"), "0.000012345");
}

TEST(TimeText, DurationsInWords) {
    EXPECT_EQ(duration_words(Seconds{4.0}), "4.0 s");
    EXPECT_EQ(duration_words(Seconds{281.0}), "4 min 41 s");
    EXPECT_EQ(duration_words(Seconds{6720.0}), "1 h 52 min");
    EXPECT_EQ(duration_words(Seconds{14400.0}), "4 h");
}

TEST(TimeText, ClockAndStamps) {
    EXPECT_EQ(clock_text(Seconds{12.9}), "0:12");
    EXPECT_EQ(clock_text(Seconds{4324.0}), "1:12:04");
    EXPECT_EQ(stamp_text("2026-03-12T16:05:31.000Z"), "2026-03-12 16:05 UTC");
    EXPECT_EQ(stamp_text("yesterday"), "yesterday");
    EXPECT_EQ(date_words("2026-03-14"), "14 March 2026");
}

}  // namespace
}  // namespace afterload::runner
