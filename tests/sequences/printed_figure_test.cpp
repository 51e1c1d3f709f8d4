// What service sheets print and what it means. Forms and meanings are common practice of the trade,
// where no other source is named.
#include "sequences/printed_figure.hpp"

#include "analysis/level.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <string>

namespace afterload::sequences {
namespace {

const PrintedNames& names() {
    static const PrintedNames unit{{"line", "phono"}, {"speaker_a", "pre_out"}};
    return unit;
}

PrintedFigure read(std::string_view text, FigureKind kind) {
    const auto figure = read_printed_figure(text, kind, names());
    EXPECT_TRUE(figure.has_value()) << text << ": " << (figure ? "" : figure.error().what);
    return figure.value_or(PrintedFigure{});
}

TextMistake refused(std::string_view text, FigureKind kind) {
    const auto figure = read_printed_figure(text, kind, names());
    EXPECT_FALSE(figure.has_value()) << text << " was taken";
    return figure ? TextMistake{} : figure.error();
}

Band band(double low, double high) {
    return {Hertz{low}, Hertz{high}};
}

TEST(PrintedFigure, PowerTakesItsConditionsFromOneLine) {
    const auto power =
        read("45 W + 45 W into 8 ohms, 20 Hz-20 kHz, 0.05 %", FigureKind::output_power);
    EXPECT_DOUBLE_EQ(power.rated.limit.at_least.value_or(0), 45.0);
    EXPECT_FALSE(power.rated.limit.at_most);
    EXPECT_EQ(power.rated.conditions.load, Ohms{8.0});
    EXPECT_EQ(power.rated.conditions.channels_driven, Channels::both);
    EXPECT_EQ(power.rated.conditions.tone_range, band(20, 20000));
    EXPECT_DOUBLE_EQ(power.rated.conditions.thd.value_or(0), 0.0005);
}

TEST(PrintedFigure, TwoChannelsAreWrittenInManyWays) {
    for (const char* const text :
         {"2 x 45 W", "2x45W", "2 × 45 W", "45 W x 2", "45 + 45 W", "45W+45W",
          "45 watts + 45 watts", "45 W, both channels driven", "Both driven, 45 W min. RMS"}) {
        const auto power = read(text, FigureKind::output_power);
        EXPECT_DOUBLE_EQ(power.rated.limit.at_least.value_or(0), 45.0) << text;
        EXPECT_EQ(power.rated.conditions.channels_driven, Channels::both) << text;
    }
}

TEST(PrintedFigure, WattsPerChannelDoNotSayHowManyWereDriven) {
    EXPECT_FALSE(
        read("45 W per channel", FigureKind::output_power).rated.conditions.channels_driven);
    EXPECT_FALSE(read("45 W/ch", FigureKind::output_power).rated.conditions.channels_driven);
}

TEST(PrintedFigure, TwoUnlikePowersAreRefused) {
    EXPECT_NE(refused("45 W + 40 W", FigureKind::output_power).what.find("two powers"),
              std::string::npos);
    EXPECT_NE(
        refused("45 W into 8 ohms, 60 W into 4 ohms", FigureKind::output_power).what.find("twice"),
        std::string::npos);
}

TEST(PrintedFigure, MusicPowerIsNoContinuousPower) {
    const auto mistake = refused("80 W music power", FigureKind::output_power);
    EXPECT_NE(mistake.advice.find("short_term_power"), std::string::npos) << mistake.advice;
}

TEST(PrintedFigure, BandsHaveManyDashes) {
    for (const char* const text :
         {"20 Hz-20 kHz", "20 Hz - 20 kHz", "20 Hz–20 kHz", "20 Hz to 20 kHz", "20-20,000 Hz",
          "20Hz~20KHz", "20 Hz..20 kHz", "20-20 kHz"}) {
        const auto thd = read(std::string{"0.05 % "} + text, FigureKind::thd);
        EXPECT_EQ(thd.rated.conditions.tone_range, band(20, 20000)) << text;
    }
}

TEST(PrintedFigure, ABandThatMayBeginAtTwoPlacesIsAskedFor) {
    const auto mistake = refused("10-50 kHz, +0/-1.5 dB", FigureKind::frequency_response);
    EXPECT_NE(mistake.what.find("10 Hz or at 10 kHz"), std::string::npos) << mistake.what;
    EXPECT_EQ(mistake.advice, "write 10 Hz-50 kHz");
}

TEST(PrintedFigure, ACommaIsAPointOrPartsThousandsOfHertz) {
    EXPECT_DOUBLE_EQ(read("0,05 %", FigureKind::thd).rated.limit.at_most.value_or(0), 0.0005);
    EXPECT_DOUBLE_EQ(
        read("1,5 V ±10 %", FigureKind::output_voltage).rated.limit.nominal.value_or(0), 1.5);
    EXPECT_DOUBLE_EQ(read(".05 %", FigureKind::thd).rated.limit.at_most.value_or(0), 0.0005);
    const auto both = refused("1,250 V ±10 %", FigureKind::output_voltage);
    EXPECT_NE(both.what.find("may be 1250 or 1.250"), std::string::npos) << both.what;
}

TEST(PrintedFigure, ResponseHasALimitAboveAndBelow) {
    for (const char* const text : {"10 Hz-50 kHz +0/-1.5 dB", "10 Hz-50 kHz, +0, -1.5 dB",
                                   "10 Hz to 50 kHz (+0 dB/-1.5 dB)", "-1.5/+0 dB, 10 Hz–50 kHz"}) {
        const auto response = read(text, FigureKind::frequency_response);
        EXPECT_DOUBLE_EQ(response.rated.limit.at_least.value_or(9), -1.5) << text;
        EXPECT_DOUBLE_EQ(response.rated.limit.at_most.value_or(9), 0.0) << text;
        EXPECT_EQ(response.rated.conditions.tone_range, band(10, 50000)) << text;
    }
    const auto even = read("20 Hz-20 kHz ±0.5 dB", FigureKind::frequency_response);
    EXPECT_DOUBLE_EQ(even.rated.limit.at_least.value_or(9), -0.5);
    EXPECT_DOUBLE_EQ(even.rated.limit.at_most.value_or(9), 0.5);
    const auto fall = read("5 Hz-100 kHz, -3 dB", FigureKind::frequency_response);
    EXPECT_DOUBLE_EQ(fall.rated.limit.at_least.value_or(9), -3.0);
    EXPECT_FALSE(fall.rated.limit.at_most);
}

TEST(PrintedFigure, AResponseWithoutASignIsAskedFor) {
    EXPECT_NE(refused("20 Hz-20 kHz, 1 dB", FigureKind::frequency_response).what.find("both?"),
              std::string::npos);
    EXPECT_NE(refused("20 Hz-20 kHz", FigureKind::frequency_response).what.find("how far"),
              std::string::npos);
}

TEST(PrintedFigure, ANominalValueIsNoLimitUntilItHasATolerance) {
    const auto alone = read("line 150 mV/47 kohm", FigureKind::input_sensitivity);
    EXPECT_TRUE(alone.without_tolerance());
    EXPECT_EQ(alone.rated.conditions.input, "line");
    ASSERT_EQ(alone.beside.size(), 1U);
    EXPECT_EQ(alone.beside.front(), "input impedance 47 kohm");
    // 150 mV times and over 10^(1.5/20) = 1.1885: computed.
    const auto limit = with_tolerance(alone.rated.limit, "1.5 dB", FigureKind::input_sensitivity);
    ASSERT_TRUE(limit.has_value());
    EXPECT_NEAR(limit->at_least.value_or(0), 0.150 / 1.18850, 5e-5);
    EXPECT_NEAR(limit->at_most.value_or(0), 0.150 * 1.18850, 5e-5);
    const auto per_cent = with_tolerance(alone.rated.limit, "±10 %", FigureKind::input_sensitivity);
    ASSERT_TRUE(per_cent.has_value());
    EXPECT_NEAR(per_cent->at_least.value_or(0), 0.135, 1e-9);
    EXPECT_FALSE(with_tolerance(alone.rated.limit, "a bit", FigureKind::input_sensitivity));
    EXPECT_FALSE(with_tolerance(alone.rated.limit, "0 dB", FigureKind::input_sensitivity));
}

TEST(PrintedFigure, GainMayBePrintedAsTwoVoltages) {
    const auto gain = read("150 mV in, 17.9 V out, ±1.5 dB", FigureKind::gain);
    EXPECT_NEAR(gain.rated.limit.nominal.value_or(0), 20 * std::log10(17.9 / 0.150), 0.006);
    EXPECT_NEAR(gain.rated.limit.at_most.value_or(0) - gain.rated.limit.nominal.value_or(0), 1.5,
                1e-9);
}

TEST(PrintedFigure, IhfAIsTheWeightingAndNothingElse) {
    for (const char* const text : {"90 dB (IHF-A)", "90 dB IHF A network", "90 dB A-weighted",
                                   "90 dB(A)", "90 dBA", "90 dB, A"}) {
        const auto ratio = read(text, FigureKind::signal_to_noise);
        EXPECT_DOUBLE_EQ(ratio.rated.limit.at_least.value_or(0), 90.0) << text;
        EXPECT_EQ(ratio.rated.conditions.weighting, Weighting::a) << text;
        EXPECT_FALSE(ratio.rated.conditions.reference_level) << text;
        EXPECT_FALSE(ratio.rated.conditions.termination) << text;
    }
}

TEST(PrintedFigure, OnlyNoiseIsWeighted) {
    EXPECT_EQ(refused("40 dB ±1 dB (IHF-A)", FigureKind::gain).what, "only noise is weighted");
}

TEST(PrintedFigure, IhfAloneNamesTwoMethods) {
    const auto mistake = refused("90 dB IHF", FigureKind::signal_to_noise);
    EXPECT_NE(mistake.advice.find("1966"), std::string::npos) << mistake.advice;
}

TEST(PrintedFigure, ASignalToNoiseRatioHasAReference) {
    const auto rated = read("88 dB, shorted, re rated output", FigureKind::signal_to_noise);
    EXPECT_EQ(rated.rated.conditions.termination, "shorted");
    EXPECT_EQ(text(rated.rated.conditions.reference_level.value_or(LevelTarget{})), "rated");
    const auto phono = read("phono 75 dB re 5 mV, A", FigureKind::signal_to_noise);
    EXPECT_EQ(reference_text(phono.rated.conditions.reference_level.value_or(LevelTarget{})),
              "5 mV in");
    const auto watt = read("80 dB ref. 1 W unweighted", FigureKind::signal_to_noise);
    EXPECT_EQ(text(watt.rated.conditions.reference_level.value_or(LevelTarget{})), "1 W");
    EXPECT_EQ(watt.rated.conditions.weighting, Weighting::unweighted);
    EXPECT_NE(refused("80 dB re 0.5 V, A", FigureKind::signal_to_noise).what.find("input or at"),
              std::string::npos);
}

TEST(PrintedFigure, DistortionIsAtALevel) {
    EXPECT_EQ(read("0.05 % at rated power, 1 kHz", FigureKind::thd).rated.conditions.output_level,
              (LevelTarget{LevelTarget::Kind::rated_fraction, 1.0}));
    EXPECT_EQ(read("0.03 % at half power", FigureKind::thd).rated.conditions.output_level,
              (LevelTarget{LevelTarget::Kind::rated_fraction, 0.5}));
    EXPECT_EQ(read("0.03 % at 1/2 rated power", FigureKind::thd).rated.conditions.output_level,
              (LevelTarget{LevelTarget::Kind::rated_fraction, 0.5}));
    EXPECT_EQ(read("0.03 % (1 W, 1 kHz)", FigureKind::thd).rated.conditions.output_level,
              (LevelTarget{LevelTarget::Kind::output_power, 1.0}));
    const auto level =
        read("0.03 % at rated - 3 dB", FigureKind::thd).rated.conditions.output_level;
    EXPECT_NEAR(level.value_or(LevelTarget{}).value, std::pow(10.0, -0.3), 1e-12);
}

TEST(PrintedFigure, ALimitOnTheWrongSideIsRefused) {
    EXPECT_NE(refused("more than 0.05 %", FigureKind::thd).what.find("smaller"), std::string::npos);
    EXPECT_NE(refused("less than 60 dB", FigureKind::channel_separation).what.find("larger"),
              std::string::npos);
    EXPECT_DOUBLE_EQ(read("better than 60 dB at 1 kHz", FigureKind::channel_separation)
                         .rated.limit.at_least.value_or(0),
                     60.0);
}

TEST(PrintedFigure, OffsetIsWithinItsLimitOnBothSides) {
    for (const char* const text :
         {"0 ± 50 mV", "±50 mV", "less than 50 mV", "50 mV", "-50 mV to +50 mV"}) {
        const auto offset = read(text, FigureKind::dc_offset);
        EXPECT_DOUBLE_EQ(offset.rated.limit.at_least.value_or(0), -0.05) << text;
        EXPECT_DOUBLE_EQ(offset.rated.limit.at_most.value_or(0), 0.05) << text;
    }
}

TEST(PrintedFigure, AnIdleCurrentIsPrintedAcrossAResistor) {
    const auto idle =
        read("12 mV ± 3 mV across R733 (0.33 ohm), after 20 min", FigureKind::quiescent_current);
    EXPECT_NEAR(idle.rated.limit.at_least.value_or(0), 0.009 / 0.33, 1e-5);
    EXPECT_NEAR(idle.rated.limit.at_most.value_or(0), 0.015 / 0.33, 1e-5);
    EXPECT_EQ(idle.rated.conditions.warm_up, Seconds{1200.0});
    EXPECT_NE(refused("12 mV across R733", FigureKind::quiescent_current).what.find("its ohms"),
              std::string::npos);
    EXPECT_DOUBLE_EQ(
        read("20-60 mA", FigureKind::quiescent_current).rated.limit.at_most.value_or(0), 0.06);
}

TEST(PrintedFigure, APowerBandwidthHasTwoEnds) {
    const auto bandwidth = read("5 Hz-60 kHz, half power, 0.1 %", FigureKind::power_bandwidth);
    EXPECT_DOUBLE_EQ(bandwidth.rated.limit.at_most.value_or(0), 5.0);
    ASSERT_TRUE(bandwidth.upper_end.has_value());
    EXPECT_DOUBLE_EQ(bandwidth.upper_end->at_least.value_or(0), 60000.0);
    EXPECT_DOUBLE_EQ(bandwidth.rated.conditions.thd.value_or(0), 0.001);
}

TEST(PrintedFigure, ThePageMayStandBeside) {
    EXPECT_EQ(read("50, 8 ohms, 1 kHz, p. 4", FigureKind::damping_factor).rated.source, "page 4");
    EXPECT_EQ(read("page 11: 3 s to 6 s", FigureKind::relay_delay).rated.source, "page 11");
}

TEST(PrintedFigure, AWordThatIsNotUnderstoodIsNamedWithAnExample) {
    const auto mistake = refused("45 W roughly", FigureKind::output_power);
    EXPECT_EQ(mistake.what, "“roughly” was not understood");
    EXPECT_NE(mistake.advice.find("45 W + 45 W into 8 ohms"), std::string::npos) << mistake.advice;
    EXPECT_NE(refused("unwieghted 80 dB", FigureKind::signal_to_noise).advice.find("unweighted"),
              std::string::npos);
}

TEST(PrintedFigure, AnInputThatTheUnitHasNotIsNamed) {
    const auto mistake = refused("tuner 150 mV", FigureKind::input_sensitivity);
    EXPECT_EQ(mistake.what, "the unit has no input “tuner”");
    EXPECT_EQ(mistake.advice, "its inputs: line, phono");
}

TEST(PrintedFigure, ANumberWithoutItsUnitIsRefused) {
    EXPECT_EQ(refused("45", FigureKind::output_power).advice, "write 45 W");
    EXPECT_EQ(refused("150", FigureKind::input_sensitivity).advice, "write 150 V");
}

TEST(PrintedFigure, HostileTextIsRefusedAndShownEscaped) {
    const auto mistake = refused("45 W \x1b[2J", FigureKind::output_power);
    EXPECT_EQ(mistake.what.find('\x1b'), std::string::npos) << mistake.what;
    EXPECT_NE(mistake.what.find("\\x1b"), std::string::npos) << mistake.what;
    EXPECT_NE(
        refused(std::string(10000, '9') + " W", FigureKind::output_power).what.find("more than"),
        std::string::npos);
    EXPECT_FALSE(read_printed_figure("\xff\xfe", FigureKind::thd, names()).has_value());
}

TEST(PrintedFigure, EveryExampleIsUnderstood) {
    for (const FigureKind kind : all_figure_kinds()) {
        const std::string example{printed_example(kind)};
        if (example == "1" || kind == FigureKind::random_steps) {
            continue;  // of these no sheet prints a figure
        }
        EXPECT_TRUE(read_printed_figure(example, kind, names()).has_value())
            << name(kind) << ": " << example << ": "
            << read_printed_figure(example, kind, names()).error().what;
    }
}

TEST(PrintedCondition, AnAnswerIsReadAsTheConditionThatWasAskedFor) {
    const auto one = [](std::string_view text, std::string_view key, FigureKind kind) {
        const auto conditions = read_printed_condition(text, key, kind, names());
        EXPECT_TRUE(conditions.has_value())
            << text << ": " << (conditions ? "" : conditions.error().what);
        return conditions.value_or(Conditions{});
    };
    EXPECT_EQ(one("8 ohms", "load", FigureKind::output_power).load, Ohms{8.0});
    EXPECT_EQ(one("both", "channels_driven", FigureKind::output_power).channels_driven,
              Channels::both);
    EXPECT_EQ(one("20-20,000 Hz", "frequency", FigureKind::thd).tone_range, band(20, 20000));
    EXPECT_EQ(one("20 Hz-80 kHz", "bandwidth", FigureKind::thd_plus_noise).bandwidth,
              band(20, 80000));
    EXPECT_EQ(one("IHF-A", "weighting", FigureKind::signal_to_noise).weighting, Weighting::a);
    EXPECT_EQ(one("rated", "reference_level", FigureKind::signal_to_noise).reference_level,
              (LevelTarget{LevelTarget::Kind::rated_fraction, 1.0}));
    EXPECT_EQ(one("1 W", "output_level", FigureKind::input_sensitivity).output_level,
              (LevelTarget{LevelTarget::Kind::output_power, 1.0}));
    EXPECT_EQ(one("maximum", "volume", FigureKind::signal_to_noise).volume, "maximum");
    EXPECT_EQ(one("600 ohm", "termination", FigureKind::signal_to_noise).termination, "600 ohm");
    EXPECT_EQ(one("shorted", "termination", FigureKind::signal_to_noise).termination, "shorted");
    EXPECT_EQ(one("phono", "input", FigureKind::input_sensitivity).input, "phono");
    EXPECT_FALSE(read_printed_condition("8 V", "load", FigureKind::output_power, names()));
    EXPECT_FALSE(read_printed_condition("45 W", "load", FigureKind::output_power, names()));
}

}  // namespace
}  // namespace afterload::sequences
