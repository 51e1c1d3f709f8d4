// The decision rule: design in ILAC-G8:09/2019, 4.2.3, with the rig's part on the safe side.
#include "analysis/verdict.hpp"

#include "analysis/measure.hpp"
#include "analysis/rig_part.hpp"
#include "analysis/scale.hpp"
#include "analysis/wording.hpp"
#include "tests/analysis/published.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <array>
#include <cmath>
#include <random>

namespace afterload::analysis {
namespace {

using namespace afterload::literals;
using testing::AllOf;
using testing::HasSubstr;
using testing::IsEmpty;
using enum VerdictKind;

Figure reading(FigureKind kind, double value, double u_k1) {
    Figure figure;
    figure.kind = kind;
    figure.value = value;
    figure.budget = {{"meter 2026-03-02", BudgetLine::Kind::systematic, u_k1}};
    figure.rig_added = 0.0;
    figure.rig_cancelled = 0.0;
    return figure;
}

Figure with_rig(Figure figure, double added, double cancelled) {
    figure.rig_added = added;
    figure.rig_cancelled = cancelled;
    return figure;
}

RatedFigure house(FigureKind kind, std::optional<double> at_least, std::optional<double> at_most) {
    RatedFigure rated;
    rated.figure = kind;
    rated.origin = RatedFigure::Origin::house;  // no condition is open on a house sheet
    rated.limit.at_least = at_least;
    rated.limit.at_most = at_most;
    return rated;
}

RatedFigure most(FigureKind kind, double limit) {
    return house(kind, std::nullopt, limit);
}
RatedFigure least(FigureKind kind, double limit) {
    return house(kind, limit, std::nullopt);
}

VerdictKind call(const Figure& figure, const RatedFigure& rated) {
    return judge(figure, rated).kind;
}

TEST(Verdict, FiftyWattsFallIntoTheFourClassesOfTheGuideline) {
    // Worked from ILAC-G8 4.2.3 with w = U: minimum 50 W, u = 0.6 W: pass from 51.2, fail
    // under 48.8.
    const RatedFigure rated = least(FigureKind::mains_power, 50.0);  // scored in watts
    const auto at = [&](double watts) {
        return call(reading(FigureKind::mains_power, watts, 0.6), rated);
    };
    EXPECT_EQ(at(51.21), pass);
    EXPECT_EQ(at(51.19), conditional_pass);
    EXPECT_EQ(at(50.01), conditional_pass);
    EXPECT_EQ(at(50.00), conditional_pass);
    EXPECT_EQ(at(49.99), conditional_fail);
    EXPECT_EQ(at(48.81), conditional_fail);
    EXPECT_EQ(at(48.79), fail);
}

TEST(Verdict, OutputPowerIsScoredAsVolts) {
    // The same figures where U is symmetric in volts: the edges move by U/4L of themselves, under
    // 0.01 W.
    const RatedFigure rated = least(FigureKind::output_power, 50.0);
    const auto at = [&](double watts) {
        return call(reading(FigureKind::output_power, watts, 0.6), rated);
    };
    EXPECT_EQ(at(51.20), pass);
    EXPECT_EQ(at(51.18), conditional_pass);
    EXPECT_EQ(at(48.81), conditional_fail);
    EXPECT_EQ(at(48.78), fail);
    // And where it matters: 4 % of voltage at 46 W, relative to 40 W. 6.782 V·√ohm - 6.325 <
    // 0.5426.
    EXPECT_EQ(call(reading(FigureKind::output_power, 46.0, 46.0 * 0.049), rated), conditional_fail);
}

TEST(Verdict, DampingFactorIsScoredAsOhms) {
    // 8 ohm / 80 with 20 % (k = 2) of the impedance: 0.1 ohm ± 0.02, limit 0.1231 (65): inside by
    // 0.0231.
    const RatedFigure rated = least(FigureKind::damping_factor, 65.0);
    EXPECT_EQ(call(reading(FigureKind::damping_factor, 80.0, 8.0), rated), pass);
    // In units of the factor itself 80 - 65 < 16 would have been conditional. At 66.5 it is not in
    // ohms:
    EXPECT_EQ(call(reading(FigureKind::damping_factor, 80.0, 8.0),
                   least(FigureKind::damping_factor, 67.0)),
              conditional_pass);
    EXPECT_EQ(call(reading(FigureKind::damping_factor, -900.0, 8.0), rated), not_resolvable);
}

TEST(Verdict, SeparationIsScoredAsARatio) {
    // 60 dB, limit 58 dB: the ratios are 1.000e-3 and 1.259e-3. U = 2 dB (k = 2) is 0.230e-3:
    // clear.
    const RatedFigure rated = least(FigureKind::channel_separation, 58.0);
    EXPECT_EQ(call(reading(FigureKind::channel_separation, 60.0, 1.0), rated), pass);
    EXPECT_EQ(call(reading(FigureKind::channel_separation, 60.0, 1.2), rated), conditional_pass);
}

TEST(Verdict, AtTheGuardBandOneInFortyFourIsAcceptedWrongly) {
    // ILAC-G8 4.2.2: w = U (k = 2), a unit exactly at its limit passes with 2.275 %. 40 000 draws:
    // standard deviation 0.075 %.
    std::mt19937_64 draw{20260302};
    std::normal_distribution<double> noise{0.0, 0.6};
    const RatedFigure rated = least(FigureKind::mains_power, 50.0);
    int passes = 0;
    constexpr int draws = 40000;
    for (int i = 0; i < draws; ++i) {
        const Figure figure = reading(FigureKind::mains_power, 50.0 + noise(draw), 0.6);
        passes += judge(figure, rated).kind == pass ? 1 : 0;
    }
    test::expect_published("ILAC-G8:09/2019, 4.2.2", "accepted wrongly at the limit, w = U, %",
                           100.0 * passes / draws, 2.275, 4.0 * 0.075);
}

TEST(Verdict, TheRigsPartWidensTheBandOnTheSideThatCounts) {
    const RatedFigure rated = most(FigureKind::thd, 1e-3);
    const auto at = [&](double value, double added, double cancelled) {
        return call(with_rig(reading(FigureKind::thd, value, 1e-5), added, cancelled), rated);
    };
    // U = 2e-5. Inside: what the rig may have cancelled counts.
    EXPECT_EQ(at(5e-4, 9e-4, 1e-4), pass);
    EXPECT_EQ(at(5e-4, 0.0, 4.9e-4), conditional_pass);
    EXPECT_EQ(at(5e-4, 0.0, 5.1e-4), not_resolvable);
    // Outside: what it may have added.
    EXPECT_EQ(at(2e-3, 1e-4, 9e-3), fail);
    EXPECT_EQ(at(2e-3, 9.9e-4, 0.0), conditional_fail);
    EXPECT_EQ(at(2e-3, 1.1e-3, 0.0), not_resolvable);
}

TEST(Verdict, ForASeparationAddedMeansLookingWorse) {
    // 50 dB read, 60 dB rated. A leak of the rig of 55 dB could be 7 dB of it: the unit's is 57.3
    // dB.
    const RatedFigure rated = least(FigureKind::channel_separation, 60.0);
    const double ratio = scored(FigureKind::channel_separation, 50.0);
    const auto with_leak = [&](double leak) {
        Figure figure = reading(FigureKind::channel_separation, 50.0, 0.1);
        state_rig(figure, {leak, leak}, std::nullopt);
        return figure;
    };
    const Figure figure = with_leak(scored(FigureKind::channel_separation, 55.0));
    EXPECT_NEAR(*figure.rig_added, 7.18, 0.005);      // 20 lg(1/(1 - 10^(-5/20)))
    EXPECT_NEAR(*figure.rig_cancelled, 3.88, 0.005);  // 20 lg(1 + 10^(-5/20))
    EXPECT_EQ(call(figure, rated), fail);
    EXPECT_EQ(call(with_leak(0.7 * ratio), rated), not_resolvable);  // leaves 60.5 dB
    EXPECT_EQ(call(with_leak(0.67 * ratio), rated), conditional_fail);
}

TEST(Verdict, AnUnknownRigPartIsAtBestConditional) {
    Figure figure = reading(FigureKind::thd, 1e-4, 1e-6);
    figure.rig_added.reset();
    figure.rig_cancelled.reset();
    const Verdict inside = judge(figure, most(FigureKind::thd, 1e-3));
    EXPECT_EQ(inside.kind, conditional_pass);
    EXPECT_THAT(inside.reason, HasSubstr("the rig's own distortion is not known"));
    EXPECT_EQ(call(figure, most(FigureKind::thd, 1e-5)), conditional_fail);
    // Only the side that counts needs to be known: noise of the rig cannot have hidden any.
    figure.rig_cancelled = 0.0;
    EXPECT_EQ(call(figure, most(FigureKind::thd, 1e-3)), pass);
    EXPECT_EQ(call(figure, most(FigureKind::thd, 1e-5)), conditional_fail);
}

TEST(Verdict, OfTwoSidesTheNearerCounts) {
    const RatedFigure rated = house(FigureKind::gain, 40.0, 43.0);
    const Verdict low = judge(reading(FigureKind::gain, 40.15, 0.1), rated);
    EXPECT_EQ(low.kind, conditional_pass);
    EXPECT_NEAR(low.margin, 0.15, 1e-12);
    const Verdict high = judge(reading(FigureKind::gain, 43.5, 0.1), rated);
    EXPECT_EQ(high.kind, fail);
    EXPECT_NEAR(high.margin, -0.5, 1e-12);
    EXPECT_EQ(call(reading(FigureKind::gain, 41.5, 0.1), rated), pass);
    EXPECT_EQ(call(reading(FigureKind::gain, 39.7, 0.1), rated), fail);
}

TEST(Verdict, ABoundPassesInsideAndIsOtherwiseNotResolvable) {
    Figure figure = reading(FigureKind::thd, 0.0, 1e-6);
    figure.value.reset();
    figure.bound = Bound{5e-5, Bound::Side::at_most};
    EXPECT_EQ(call(figure, most(FigureKind::thd, 1e-4)), pass);
    const Verdict beyond = judge(figure, most(FigureKind::thd, 4e-5));
    EXPECT_EQ(beyond.kind, not_resolvable);
    EXPECT_THAT(beyond.reason, HasSubstr("at most 0.005 %"));
    figure.rig_cancelled.reset();
    EXPECT_EQ(call(figure, most(FigureKind::thd, 1e-4)), conditional_pass);
}

TEST(Verdict, ADeadChannelMissesItsGainThoughItCannotBeRead) {
    Figure figure = reading(FigureKind::gain, 0.0, 3.0);
    figure.value.reset();
    figure.bound = Bound{-70.0, Bound::Side::at_most};
    EXPECT_EQ(call(figure, house(FigureKind::gain, 40.0, 43.0)), fail);
    figure.bound = Bound{41.0, Bound::Side::at_most};
    EXPECT_EQ(call(figure, house(FigureKind::gain, 40.0, 43.0)), not_resolvable);
}

TEST(Verdict, AFigureThatSaysWhyIsNotResolvable) {
    Figure figure;
    figure.kind = FigureKind::thd;
    figure.unresolved = "H3 of 20 kHz needs a sample rate of 134 kHz";
    const Verdict verdict = judge(figure, most(FigureKind::thd, 1e-3));
    EXPECT_EQ(verdict.kind, not_resolvable);
    EXPECT_EQ(verdict.reason, figure.unresolved);
    EXPECT_EQ(call(reading(FigureKind::thd, std::nan(""), 1e-6), most(FigureKind::thd, 1e-3)),
              not_resolvable);
}

TEST(Verdict, AnUncertaintyAboveTheCeilingCallsNothing) {
    // Ceiling of a distortion: half of the limit.
    const RatedFigure rated = most(FigureKind::thd, 1e-3);
    EXPECT_EQ(call(reading(FigureKind::thd, 1e-4, 2.4e-4), rated), pass);
    const Verdict wide = judge(reading(FigureKind::thd, 1e-4, 2.6e-4), rated);
    EXPECT_EQ(wide.kind, not_resolvable);
    EXPECT_THAT(wide.reason, HasSubstr("too large to call"));
    EXPECT_EQ(call(reading(FigureKind::gain, 41.0, 0.3), house(FigureKind::gain, 30.0, 50.0)),
              not_resolvable);
}

TEST(Verdict, AGrossFaultFailsWhateverTheCeilingSays) {
    // A dead channel: -60 dB of gain known to 3 dB only.
    EXPECT_EQ(call(reading(FigureKind::gain, -60.0, 3.0), house(FigureKind::gain, 40.0, 43.0)),
              fail);
    EXPECT_EQ(call(reading(FigureKind::gain, 38.0, 0.4), house(FigureKind::gain, 40.0, 43.0)),
              not_resolvable);
}

RatedFigure makers(FigureKind kind, std::optional<double> at_least, std::optional<double> at_most,
                   Conditions conditions) {
    RatedFigure rated = house(kind, at_least, at_most);
    rated.origin = RatedFigure::Origin::maker;
    rated.conditions = std::move(conditions);
    return rated;
}

TEST(Verdict, AConditionThatDecidesMustBeStated) {
    Conditions all_but_weighting;
    all_but_weighting.reference_level = LevelTarget{};
    all_but_weighting.volume = "maximum";
    all_but_weighting.termination = "shorted";
    const Figure figure = reading(FigureKind::signal_to_noise, 92.0, 0.3);
    const RatedFigure rated =
        makers(FigureKind::signal_to_noise, 88.0, std::nullopt, all_but_weighting);
    const Verdict open = judge(figure, rated);
    EXPECT_EQ(open.kind, not_comparable);
    EXPECT_THAT(open.reason, HasSubstr("weighting"));
    Conditions all = all_but_weighting;
    all.weighting = Weighting::a;
    EXPECT_EQ(call(figure, makers(FigureKind::signal_to_noise, 88.0, std::nullopt, all)), pass);
    // Never a fail, however far.
    EXPECT_EQ(call(reading(FigureKind::signal_to_noise, 40.0, 0.3), rated), not_comparable);
}

TEST(Verdict, AConditionThatAHabitSettlesIsAssumed) {
    Conditions at_one_watt;
    at_one_watt.output_level = LevelTarget{LevelTarget::Kind::output_power, 1.0};
    at_one_watt.frequency = 1_kHz;  // the bandwidth is left open
    const Figure figure = reading(FigureKind::thd, 1e-4, 1e-6);
    EXPECT_EQ(call(figure, makers(FigureKind::thd, std::nullopt, 3e-4, at_one_watt)), pass);
}

TEST(Verdict, AnOpenConditionSmallerThanTheUncertaintyIsConditional) {
    Conditions stated;
    stated.load = 8_ohm;
    stated.frequency = 1_kHz;  // driven channels are left open: 0.61 dB of power
    const auto judged = [&](double relative_u) {
        return judge(reading(FigureKind::output_power, 60.0, 60.0 * relative_u),
                     makers(FigureKind::output_power, 40.0, std::nullopt, stated));
    };
    EXPECT_EQ(judged(0.02).kind, not_comparable);
    // 0.61 dB is 7.3 % of the voltage; a U of 8 % of it is a u of 8 % of the power.
    EXPECT_EQ(uncertainty_ceiling(FigureKind::output_power), 0.10);
    EXPECT_EQ(judged(0.049).kind, not_comparable);
    // Nothing between the ceiling and the spread for a power; a rig part may bridge it.
    Figure wide = with_rig(reading(FigureKind::output_power, 60.0, 1.0), 8.0, 8.0);
    const Verdict verdict =
        judge(wide, makers(FigureKind::output_power, 40.0, std::nullopt, stated));
    EXPECT_EQ(verdict.kind, conditional_pass);
    EXPECT_THAT(verdict.reason, AllOf(HasSubstr("channels driven"), HasSubstr("both assumed")));
}

TEST(Verdict, ShortTermPowerIsNeverHeldAgainstAContinuousRating) {
    EXPECT_EQ(call(reading(FigureKind::short_term_power, 60.0, 0.5),
                   least(FigureKind::output_power, 40.0)),
              not_comparable);
}

TEST(Verdict, ALevelDrivenToItsOwnLimitIsNotShortOfIt) {
    // A scored target is reached within -0.1 and 0 dB: 39.6 W is what was asked for, 38 W is not.
    Figure figure = reading(FigureKind::output_power, 39.6, 0.9);
    figure.conditions.output_level = LevelTarget{};
    EXPECT_EQ(call(figure, least(FigureKind::output_power, 40.0)), conditional_pass);
    figure.value = 30.0;
    EXPECT_EQ(call(figure, least(FigureKind::output_power, 40.0)), fail);
    figure.value = 38.6;
    EXPECT_EQ(call(figure, least(FigureKind::output_power, 40.0)), conditional_fail);
    figure.value = 39.6;
    figure.conditions.output_level.reset();
    EXPECT_EQ(call(figure, least(FigureKind::output_power, 40.0)), conditional_fail);
}

TEST(Verdict, ANarrowerMeterPassesNothingPlainly) {
    Figure figure = reading(FigureKind::thd, 1e-4, 1e-6);
    figure.conditions.frequency = Hertz{6667.0};
    figure.conditions.highest_order = 3;
    figure.conditions.bandwidth = Band{Hertz{6667.0}, Hertz{21600.0}};
    RatedFigure rated = most(FigureKind::thd, 3e-4);
    rated.conditions.bandwidth = Band{20_Hz, 80_kHz};
    const Verdict verdict = judge(figure, rated);
    EXPECT_EQ(verdict.kind, conditional_pass);
    EXPECT_THAT(verdict.reason, HasSubstr("measured up to 21.6 kHz, rated up to 80 kHz"));
    // What is outside already does not come inside with more harmonics.
    rated.limit.at_most = 3e-5;
    EXPECT_EQ(call(figure, rated), fail);
    // At 997 Hz twenty harmonics end below either edge.
    figure.conditions.frequency = Hertz{997.0};
    figure.conditions.highest_order = 20;
    rated.limit.at_most = 3e-4;
    EXPECT_EQ(call(figure, rated), pass);
}

TEST(Verdict, ACurveStandsOrFallsWithItsWorstPoint) {
    Figure figure;
    figure.kind = FigureKind::frequency_response;
    figure.rig_added = 0.0;
    figure.rig_cancelled = 0.0;
    figure.curve =
        Curve{{10.0, 19.7, 997.0, 19997.0}, {-9.0, -2.2, 0.0, -0.4}, {}, {0.05, 0.05, 0.0, 0.05}};
    RatedFigure rated = house(FigureKind::frequency_response, -1.0, 1.0);
    rated.conditions.tone_range = Band{20_Hz, 20_kHz};
    const Verdict verdict = judge(figure, rated);
    EXPECT_EQ(verdict.kind, fail);
    EXPECT_NEAR(verdict.margin, -1.2, 1e-12);
    EXPECT_THAT(verdict.reason, HasSubstr("worst at 19.7 Hz"));
    rated.limit.at_least = -3.0;
    EXPECT_EQ(call(figure, rated), pass);
}

TEST(Verdict, ReasonsNameTheLargerPart) {
    const RatedFigure rated = most(FigureKind::thd, 1e-4);
    const Verdict by_rig =
        judge(with_rig(reading(FigureKind::thd, 6.2e-5, 1.5e-6), 3.6e-5, 3.6e-5), rated);
    EXPECT_EQ(by_rig.kind, conditional_pass);
    EXPECT_THAT(by_rig.reason,
                AllOf(HasSubstr("the rig's own distortion, 0.0036 %, is the larger part"),
                      HasSubstr("a cleaner source")));
    const Verdict by_meter = judge(reading(FigureKind::thd, 9e-5, 1e-5), rated);
    EXPECT_EQ(by_meter.kind, conditional_pass);
    EXPECT_THAT(by_meter.reason, HasSubstr("meter 2026-03-02"));
    Figure noisy = reading(FigureKind::thd, 9e-5, 1e-6);
    noisy.budget.push_back({"record noise", BudgetLine::Kind::noise, 1e-5});
    EXPECT_THAT(judge(noisy, rated).reason,
                AllOf(HasSubstr("record noise"), HasSubstr("a longer record")));
    EXPECT_THAT(judge(reading(FigureKind::thd, 1e-5, 1e-6), rated).reason, IsEmpty());
}

TEST(Verdict, AWarningMarkIsAWordBesideAPass) {
    RatedFigure rated = house(FigureKind::dc_offset, -0.05, 0.05);
    rated.warn = Limit{-0.03, 0.03, std::nullopt};
    const Verdict marked = judge(reading(FigureKind::dc_offset, 0.04, 0.001), rated);
    EXPECT_EQ(marked.kind, pass);
    EXPECT_THAT(marked.reason, HasSubstr("warning"));
    EXPECT_THAT(judge(reading(FigureKind::dc_offset, 0.01, 0.001), rated).reason, IsEmpty());
}

TEST(Verdict, WordsOfTheDocumentsAreFixed) {
    EXPECT_EQ(name(conditional_pass), "conditional_pass");
    EXPECT_EQ(name(not_comparable), "not_comparable");
    EXPECT_EQ(in_words(conditional_fail), "conditional fail");
    EXPECT_EQ(in_words(not_resolvable), "not resolvable");
}

TEST(Wording, NumbersReadAsOnASheet) {
    EXPECT_EQ(in_words(3.6e-5, FigureKind::thd, 2), "0.0036 %");
    EXPECT_EQ(in_words(1e-8, FigureKind::thd, 2), "0.000001 %");
    EXPECT_EQ(in_words(17.889, FigureKind::output_voltage), "17.9 V");
    EXPECT_EQ(in_words(0.0012, FigureKind::noise_voltage), "1.2 mV");
    EXPECT_EQ(in_words(3.21e-5, FigureKind::noise_voltage), "32.1 uV");
    EXPECT_EQ(in_words(21600.0, FigureKind::bandwidth_high), "21.6 kHz");
    EXPECT_EQ(in_words(-0.25, FigureKind::gain), "-0.25 dB");
    EXPECT_EQ(in_words(1234.0, FigureKind::damping_factor), "1234");
    EXPECT_EQ(in_words(0.0, FigureKind::gain), "0 dB");
    EXPECT_EQ(in_words(100.0, FigureKind::output_power), "100 W");
}

// --- Property: rigs
// ---------------------------------------------------------------------------------

struct Case {
    FigureKind kind;
    bool upper;  ///< which side the limit is on
    double limit;
    double span;  ///< how far readings and rig parts reach, on the scored scale, in limits
};

constexpr std::array cases{
    Case{FigureKind::thd, true, 1e-3, 2.0},
    Case{FigureKind::noise_voltage, true, 5e-4, 2.0},
    Case{FigureKind::hum_voltage, true, 3e-4, 2.0},
    Case{FigureKind::channel_separation, false, 60.0, 2.0},
    Case{FigureKind::signal_to_noise, false, 90.0, 2.0},
    Case{FigureKind::damping_factor, false, 50.0, 2.0},
    Case{FigureKind::output_power, false, 40.0, 0.3},
    Case{FigureKind::output_voltage, false, 1.0, 0.3},
    Case{FigureKind::gain, true, 43.0, 0.1},
    Case{FigureKind::gain, false, 40.0, 0.1},
};

RatedFigure limit_of(const Case& one) {
    return one.upper ? most(one.kind, one.limit) : least(one.kind, one.limit);
}

// A figure as measure makes it: reading, uncertainty and rig's part are given on the scored scale.
Figure measured(FigureKind kind, double on_scale, double u_k1, double added, double cancelled) {
    const double value = unscored(kind, on_scale);
    Figure figure = reading(kind, value, std::abs(unscored_change(kind, value, u_k1)));
    const bool can_vanish = falling(kind) || better(kind) == Better::smaller;
    if (can_vanish && kind != FigureKind::damping_factor) {
        state_rig(figure, {added, cancelled}, std::nullopt);
        return figure;
    }
    // The rig made it look worse by `added`, better by `cancelled`; worse is less for these.
    const bool worse_is_up = falling(kind) || better(kind) != Better::larger;
    figure.rig_added = std::abs(unscored(kind, on_scale + (worse_is_up ? -added : added)) - value);
    figure.rig_cancelled =
        std::abs(unscored(kind, on_scale + (worse_is_up ? cancelled : -cancelled)) - value);
    return figure;
}

TEST(Verdict, AWorseRigNeverTurnsAnotherVerdictIntoAPass) {
    std::mt19937_64 draw{1};
    std::uniform_real_distribution<double> uniform{0.0, 1.0};
    int passes = 0;
    for (int i = 0; i < 200000; ++i) {
        const Case& one = cases[draw() % cases.size()];
        const double limit = scored(one.kind, one.limit);
        const double y = limit * (1.0 + one.span * (uniform(draw) - 0.5));
        const double u = limit * one.span * 0.2 * std::pow(uniform(draw), 3);
        const double added = limit * one.span * 0.3 * std::pow(uniform(draw), 3);
        const double cancelled = limit * one.span * 0.3 * std::pow(uniform(draw), 3);
        const VerdictKind better_rig =
            call(measured(one.kind, y, u, added, cancelled), limit_of(one));
        const VerdictKind worse_rig =
            call(measured(one.kind, y, u * (1.0 + uniform(draw)), added * (1.0 + uniform(draw)),
                          cancelled * (1.0 + uniform(draw))),
                 limit_of(one));
        passes += better_rig == pass ? 1 : 0;
        if (worse_rig == pass) {
            ASSERT_EQ(better_rig, pass)
                << name(one.kind) << " y/L " << y / limit << " u " << u / limit << " added "
                << added / limit << " cancelled " << cancelled / limit;
        }
    }
    EXPECT_GT(passes, 20000);  // the draws reach what they are about
}

TEST(Verdict, APoorRigNeverFailsAGoodUnit) {
    // The truth lies inside; the reading is off by up to U (k = 2) and by all that the rig says it
    // may.
    std::mt19937_64 draw{2};
    std::uniform_real_distribution<double> uniform{0.0, 1.0};
    int outside = 0;
    for (int i = 0; i < 200000; ++i) {
        const Case& one = cases[draw() % cases.size()];
        const double limit = scored(one.kind, one.limit);
        // On the scored scale "too much" lies above for an upper limit and for a falling scale.
        const double bad = (one.upper != falling(one.kind)) ? 1.0 : -1.0;
        const double truth = limit * (1.0 - bad * one.span * 0.4 * uniform(draw));
        const double u = limit * one.span * 0.2 * uniform(draw);
        const double rig = limit * one.span * 0.6 * uniform(draw);
        const double y = truth + bad * (2.0 * u * uniform(draw) + rig * uniform(draw));
        if (y <= 0.0) {
            continue;
        }
        outside += bad * (y - limit) > 0.0 ? 1 : 0;
        const Figure figure = measured(one.kind, y, u, rig, rig);
        ASSERT_NE(call(figure, limit_of(one)), fail)
            << name(one.kind) << " truth/L " << truth / limit << " y/L " << y / limit << " u "
            << u / limit << " rig " << rig / limit;
    }
    EXPECT_GT(outside, 20000);
}

TEST(Verdict, AGrossFaultFailsOnARigThatIsAsBadAsTheLimit) {
    std::mt19937_64 draw{3};
    std::uniform_real_distribution<double> uniform{0.0, 1.0};
    for (int i = 0; i < 20000; ++i) {
        const double limit = 1e-3;
        const double rig = limit * uniform(draw);
        const double y = 10.0 * limit + rig * (2.0 * uniform(draw) - 1.0);
        Figure figure = reading(FigureKind::thd, y, 0.05 * y);
        state_rig(figure, {rig, rig}, std::nullopt);
        ASSERT_EQ(call(figure, most(FigureKind::thd, limit)), fail) << y << ' ' << rig;
    }
}

}  // namespace
}  // namespace afterload::analysis
