// From records to figures: the arithmetic of budgets is checked against hand-made fits, the whole
// way from samples against synthesised records.
#include "analysis/measure.hpp"

#include "analysis/rig_part.hpp"
#include "analysis/scale.hpp"
#include "analysis/stimulus.hpp"
#include "analysis/tone_figure.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <random>

namespace afterload::analysis {
namespace {

using namespace afterload::literals;
using testing::HasSubstr;
using testing::IsEmpty;

// A bench as a shop has it.
BenchShare shop_bench() {
    BenchShare bench;
    bench.present = true;
    bench.level_source = "range high, left, 2026-03-02";
    bench.level_u_k1 = 0.007;
    bench.balance_source = "balance high 2026-03-02";
    bench.balance_u_k1 = 0.001;
    bench.drive_source = "source 2026-03-02";
    bench.drive_u_k1 = 0.005;
    bench.load = 8_ohm;
    bench.load_source = "load left 2026-03-02";
    bench.load_u_k1 = 0.01;
    bench.load_heat_u_k1 = 0.015;
    bench.distortion = {{1_Vrms, AmplitudeRatio{1e-5}, AmplitudeRatio{2e-5}},
                        {10_Vrms, AmplitudeRatio{3e-5}, AmplitudeRatio{1e-5}}};
    bench.own_noise = VoltsRms{30e-6};
    bench.own_noise_a = VoltsRms{20e-6};
    bench.own_hum = VoltsRms{5e-6};
    bench.own_separation = AmplitudeRatio{1e-5};
    return bench;
}

// A fit as a quiet record gives it: a tone of `volts` rms with its relative noise.
ToneFit fit_of(double volts, double relative_noise = 1e-6) {
    ToneFit fit;
    fit.rate = SampleRate{48000.0};
    fit.length = 1_s;
    fit.fundamental.frequency = Hertz{997.0};
    fit.fundamental.amplitude = volts * std::numbers::sqrt2;
    fit.fundamental.sigma = fit.fundamental.amplitude * relative_noise;
    return fit;
}

const BudgetLine* line_of(const Figure& figure, std::string_view source) {
    for (const BudgetLine& line : figure.budget) {
        if (line.source == source) {
            return &line;
        }
    }
    return nullptr;
}

double detail(const Figure& figure, std::string_view name) {
    for (const auto& [key, value] : figure.details) {
        if (key == name) {
            return value;
        }
    }
    return std::nan("");
}

// A record made of sines (frequency, peak volts) and white noise of `sigma` volts.
Waveform record_of(const std::vector<Partial>& partials, double seconds, double sigma,
                   unsigned seed = 1, double rate = 48000.0) {
    Waveform wave{{}, SampleRate{rate}};
    wave.volts.assign(static_cast<std::size_t>(seconds * rate), 0.0);
    add_samples(partials, wave.rate, 0.0, Frames{12345}, wave.volts);
    std::mt19937_64 draw{seed};
    std::normal_distribution<double> noise{0.0, 1.0};
    for (double& volts : wave.volts) {
        volts += sigma * noise(draw);
    }
    return wave;
}

Partial sine(double hertz, double peak, double phase = 0.4) {
    return {Hertz{hertz}, VoltsPeak{peak}, Radians{phase}};
}

ToneFit fitted(const Waveform& wave, Hertz nominal, std::optional<Hertz> mains = std::nullopt) {
    ToneFitSettings settings;
    settings.nominal = nominal;
    settings.mains = mains;
    auto fit = fit_tone(wave, settings);
    EXPECT_TRUE(fit.has_value());
    return *fit;
}

// --- Levels
// -----------------------------------------------------------------------------------------

TEST(Measure, PowerIntoADummyLoadHasTheUncertaintyOfTheGumExample) {
    // GUM 5.1.3 with the numbers of a hot load: 20 V (0.1 %), 8.044 ohm hot (cold value 0.1 %),
    // heat 0.031408 and 0.014276 W: 49.7265 W, u 0.116421 W, U 0.233 W.
    const ToneFit fit = fit_of(20.0, 0.0);
    BenchShare bench = shop_bench();
    bench.load = Ohms{8.0 * (1.0 + 100e-6 * 55.0)};
    bench.level_u_k1 = 0.001;
    bench.load_u_k1 = 0.001;
    bench.load_heat_u_k1 = std::hypot(0.031408, 0.014276) / 49.726504;
    const Figure power = output_power({{}, fit, 1, bench, {}});
    EXPECT_NEAR(*power.value, 49.726504, 5e-7);
    EXPECT_NEAR(combined(power.budget), 0.116421, 2e-6);
    EXPECT_NEAR(expanded(power.budget), 0.233, 0.0005);
    EXPECT_NEAR(line_of(power, bench.level_source)->u_k1, 0.099453, 1e-6);
    EXPECT_NEAR(line_of(power, bench.load_source)->u_k1, 0.049727, 1e-6);
    EXPECT_EQ(line_of(power, bench.load_source + ", its own heat")->kind, BudgetLine::Kind::bound);
    EXPECT_EQ(power.rig_added, 0.0);
    EXPECT_EQ(power.conditions.load, bench.load);
    EXPECT_EQ(power.conditions.frequency, Hertz{997.0});
}

TEST(Measure, TheShopsBudgetForPowerIsTwoPointThreePercent) {
    // Voltage 0.7 %, load 1 %, heat 1.5 %: 2.3 % of the power, 0.10 dB.
    const ToneFit fit = fit_of(17.8885);
    const BenchShare bench = shop_bench();
    const Figure power = output_power({{}, fit, 1, bench, {}});
    EXPECT_NEAR(*power.value, 40.0, 1e-3);
    EXPECT_NEAR(combined(power.budget) / *power.value, 0.023, 0.0005);
}

TEST(Measure, PowerIsOfTheFundamentalAndTheTotalStandsBeside) {
    ToneFit fit = fit_of(10.0);
    fit.harmonics.push_back({3, Hertz{2991.0}, 0.1 * fit.fundamental.amplitude, 0.0, 0.0});
    fit.mains.push_back({1, Hertz{50.0}, 0.02 * fit.fundamental.amplitude, 0.0, 0.0});
    fit.residual_rms = 0.3;
    const BenchShare bench = shop_bench();
    const Figure power = output_power({{}, fit, 2, bench, {}});
    EXPECT_NEAR(*power.value, 12.5, 1e-12);
    EXPECT_NEAR(detail(power, "total"), 12.5 * (1.0 + 0.01 + 0.0004) + 0.09 / 8.0, 1e-12);
    const Figure volts = output_voltage({{}, fit, 2, bench, {}});
    EXPECT_NEAR(*volts.value, 10.0, 1e-12);
    EXPECT_NEAR(detail(volts, "total"), std::sqrt(100.0 * 1.0104 + 0.09), 1e-12);
    EXPECT_EQ(volts.channel, 2);
}

TEST(Measure, PowerAtNominalMainsIsARemarkAndNeverTheFigure) {
    const ToneFit fit = fit_of(10.0);
    const BenchShare bench = shop_bench();
    Conditions conditions;
    conditions.mains_voltage = 218.5;
    const Figure low = output_power({{}, fit, 1, bench, conditions, 230.0});
    EXPECT_NEAR(*low.value, 12.5, 1e-12);
    EXPECT_NEAR(detail(low, "power_at_nominal_mains"), 12.5 * std::pow(230.0 / 218.5, 2), 1e-12);
    EXPECT_EQ(low.conditions.mains_voltage, 218.5);
    EXPECT_TRUE(std::isnan(
        detail(output_power({{}, fit, 1, bench, conditions}), "power_at_nominal_mains")));
}

TEST(Measure, NoLoadNoPower) {
    const ToneFit fit = fit_of(10.0);
    BenchShare bench = shop_bench();
    bench.load.reset();
    const Figure power = output_power({{}, fit, 1, bench, {}});
    EXPECT_FALSE(power.value.has_value());
    EXPECT_THAT(power.unresolved, HasSubstr("no load"));
}

TEST(Measure, GainTakesLevelAndDriveIntoItsUncertainty) {
    const ToneFit fit = fit_of(17.8885);
    const BenchShare bench = shop_bench();
    const Figure figure = gain({{}, fit, 1, bench, {}}, VoltsRms{0.150});
    EXPECT_NEAR(*figure.value, 41.53, 0.005);  // common practice, no source
    EXPECT_NEAR(combined(figure.budget), 8.685889638 * std::hypot(0.007, 0.005), 1e-6);
    EXPECT_NE(line_of(figure, "source 2026-03-02"), nullptr);
}

TEST(Measure, BalanceNeedsOnlyWhatSetsTheInputsApart) {
    const ToneFit left = fit_of(10.0);
    const ToneFit right = fit_of(9.0);
    const BenchShare bench = shop_bench();
    const Figure figure = channel_balance({{}, left, 1, bench, {}}, {{}, right, 2, bench, {}});
    EXPECT_NEAR(*figure.value, 0.9151, 5e-5);
    EXPECT_NEAR(combined(figure.budget), 8.685889638e-3, 1e-6);
    EXPECT_EQ(figure.pair, std::make_pair(1, 2));
}

TEST(Measure, ADeadChannelIsABound) {
    const ToneFit left = fit_of(10.0);
    const ToneFit right = fit_of(1e-4, 0.8);
    const BenchShare bench = shop_bench();
    const Figure balance = channel_balance({{}, left, 1, bench, {}}, {{}, right, 2, bench, {}});
    ASSERT_TRUE(balance.bound.has_value());
    EXPECT_FALSE(balance.value.has_value());
    EXPECT_EQ(balance.bound->side, Bound::Side::at_least);
    EXPECT_NEAR(balance.bound->value, 100.0 - 20.0 * std::log10(2.6), 1e-9);
    const Figure level = gain({{}, right, 2, bench, {}}, 1_Vrms);
    EXPECT_EQ(level.bound->side, Bound::Side::at_most);
    EXPECT_GT(level.bound->value, -80.0 + 20.0 * std::log10(2.6));
    EXPECT_NEAR(detail(level, "reading"), -80.0, 1e-9);
}

TEST(Measure, WithoutABenchTheRigIsUnknownAndTheFitIsAll) {
    const ToneFit fit = fit_of(10.0, 1e-4);
    const BenchShare none;
    const Figure volts = output_voltage({{}, fit, 1, none, {}});
    EXPECT_NEAR(combined(volts.budget), 1e-3, 1e-12);
    EXPECT_EQ(volts.budget.size(), 1U);
    EXPECT_EQ(volts.budget.front().kind, BudgetLine::Kind::noise);
    EXPECT_FALSE(volts.rig_added.has_value());
    EXPECT_FALSE(volts.rig_cancelled.has_value());
}

// --- Less than
// --------------------------------------------------------------------------------------

Figure distortion(double value, double u_k1) {
    Figure figure;
    figure.kind = FigureKind::thd;
    figure.value = value;
    figure.budget = {{"record noise", BudgetLine::Kind::noise, u_k1}};
    return figure;
}

TEST(LessThan, AReadingAboveNoiseAndRigStaysAReading) {
    Figure figure = distortion(1e-4, 1e-5);
    state_rig(figure, {7.9e-5, 3e-5}, std::nullopt);
    EXPECT_EQ(figure.value, 1e-4);
    EXPECT_FALSE(figure.bound.has_value());
    EXPECT_NEAR(*figure.rig_added, 7.9e-5, 1e-15);
    EXPECT_NEAR(*figure.rig_cancelled, 3e-5, 1e-15);
}

TEST(LessThan, OtherwiseItIsValuePlusUncertaintyPlusWhatTheRigCancelled) {
    Figure figure = distortion(1e-4, 1e-5);
    state_rig(figure, {8.1e-5, 3e-5}, std::nullopt);
    EXPECT_FALSE(figure.value.has_value());
    ASSERT_TRUE(figure.bound.has_value());
    EXPECT_NEAR(figure.bound->value, 1e-4 + 2e-5 + 3e-5, 1e-15);
    EXPECT_EQ(figure.bound->side, Bound::Side::at_most);
    EXPECT_EQ(detail(figure, "reading"), 1e-4);
}

TEST(LessThan, TheFitsOwnBoundIsKeptAndTheBenchComesOnTop) {
    Figure figure = distortion(2e-6, 4e-6);
    figure.budget.push_back({"level", BudgetLine::Kind::systematic, 3e-6});
    state_rig(figure, {0.0, 1e-5}, Bound{1e-5, Bound::Side::at_most});
    EXPECT_NEAR(figure.bound->value, 2e-6 + std::hypot(8e-6, 6e-6) + 1e-5, 1e-15);
}

TEST(LessThan, ASeparationIsAtLeast) {
    Figure figure;
    figure.kind = FigureKind::channel_separation;
    figure.value = 100.0;  // 1e-5
    state_rig(figure, {1e-5, 1e-5}, std::nullopt);
    ASSERT_TRUE(figure.bound.has_value());
    EXPECT_EQ(figure.bound->side, Bound::Side::at_least);
    EXPECT_NEAR(figure.bound->value, 93.979, 0.0005);  // 2e-5
    EXPECT_NEAR(*figure.rig_cancelled, 6.021, 0.0005);
}

TEST(LessThan, AnUnknownRigLeavesTheNoiseToDecide) {
    Figure figure = distortion(1e-4, 4e-5);
    state_rig(figure, {}, std::nullopt);
    EXPECT_TRUE(figure.value.has_value());
    EXPECT_FALSE(figure.rig_added.has_value());
    Figure buried_figure = distortion(1e-4, 6e-5);
    state_rig(buried_figure, {}, std::nullopt);
    EXPECT_NEAR(buried_figure.bound->value, 2.2e-4, 1e-15);
}

// --- The rig's part
// ---------------------------------------------------------------------------------

TEST(RigPart, DistortionIsTheLargestOfEitherHalfOverTheLevels) {
    const RigPart part = of_distortion(shop_bench());
    EXPECT_NEAR(*part.added, 5e-5, 1e-18);  // 3e-5 of the source at 10 V, 2e-5 of the input at 1 V
    EXPECT_EQ(part.added, part.cancelled);
    EXPECT_FALSE(of_distortion(BenchShare{}).added.has_value());
}

TEST(RigPart, NoiseOnlyAdds) {
    // 50 uV read, 30 uV of the rig: 40 uV are the unit's.
    const RigPart part = of_noise(shop_bench(), 50e-6, NoiseSettings{});
    EXPECT_NEAR(*part.added, 10e-6, 1e-12);
    EXPECT_EQ(part.cancelled, 0.0);
    EXPECT_NEAR(*of_noise(shop_bench(), 20e-6, NoiseSettings{}).added, 20e-6, 1e-15);
    NoiseSettings weighted;
    weighted.weighting = Weighting::a;
    EXPECT_NEAR(*of_noise(shop_bench(), 25e-6, weighted).added, 10e-6, 1e-12);
    BenchShare silent = shop_bench();
    silent.own_noise.reset();
    EXPECT_FALSE(of_noise(silent, 50e-6, NoiseSettings{}).added.has_value());
    EXPECT_EQ(of_noise(silent, 50e-6, NoiseSettings{}).cancelled, 0.0);
}

TEST(RigPart, AWiderMeterHasMoreOfTheRigsNoise) {
    NoiseSettings wide;
    wide.bandwidth = Band{20_Hz, Hertz{20.0 + 4.0 * 19980.0}};
    // Four times the band, twice the voltage: 60 uV of 100 uV leave 80.
    EXPECT_NEAR(*of_noise(shop_bench(), 100e-6, wide).added, 20e-6, 1e-12);
}

// --- Distortion from records
// ------------------------------------------------------------------------

TEST(Measure, ThdStatesItsOrderItsBandAndTheRig) {
    const Waveform wave =
        record_of({sine(997.0, 10.0), sine(1994.0, 0.01), sine(2991.0, 0.01)}, 1.0, 10.0 * 1e-5);
    const ToneFit fit = fitted(wave, Hertz{997.0});
    const BenchShare bench = shop_bench();
    const Figure figure = thd({wave, fit, 1, bench, {}}, {9, default_upper_edge(wave.rate)});
    ASSERT_TRUE(figure.value.has_value());
    EXPECT_NEAR(*figure.value, std::numbers::sqrt2 * 1e-3, expanded(figure.budget));
    EXPECT_EQ(figure.conditions.highest_order, 9);
    ASSERT_TRUE(figure.conditions.bandwidth.has_value());
    EXPECT_NEAR(figure.conditions.frequency->in<Hertz>(), 997.0, 0.01);
    EXPECT_NEAR(*figure.rig_added, 5e-5, 1e-12);
    const Figure sloped = thd({wave, fit, 1, bench, {}}, {9, default_upper_edge(wave.rate)}, 10.0);
    EXPECT_NEAR(line_of(sloped, bench.level_source)->u_k1, 0.07 * *sloped.value, 1e-9);
    const Figure table = harmonics({wave, fit, 1, bench, {}}, {9, default_upper_edge(wave.rate)});
    ASSERT_EQ(table.table.size(), 8U);
    EXPECT_NEAR(table.table[0].ratio, 1e-3, 4.0 * table.table[0].u_k1);
}

TEST(Measure, ThdOfAHighToneNamesTheRateItNeeds) {
    const Waveform wave = record_of({sine(19997.0, 10.0)}, 0.5, 1e-4);
    const ToneFit fit = fitted(wave, Hertz{19997.0});
    const BenchShare bench = shop_bench();
    const Figure figure = thd({wave, fit, 1, bench, {}}, {20, default_upper_edge(wave.rate)});
    EXPECT_FALSE(figure.value.has_value());
    EXPECT_FALSE(figure.bound.has_value());
    EXPECT_THAT(figure.unresolved, HasSubstr("Hz"));
}

TEST(Measure, ThdOfAPureToneIsLessThan) {
    const Waveform wave = record_of({sine(997.0, 10.0)}, 1.0, 10.0 * 1e-5);
    const ToneFit fit = fitted(wave, Hertz{997.0});
    const BenchShare bench = shop_bench();
    const Figure figure = thd({wave, fit, 1, bench, {}}, {9, default_upper_edge(wave.rate)});
    ASSERT_TRUE(figure.bound.has_value());
    EXPECT_FALSE(figure.value.has_value());
    EXPECT_EQ(figure.bound->side, Bound::Side::at_most);
    EXPECT_GT(figure.bound->value, 5e-5);  // what the rig may have cancelled, and noise
    EXPECT_LT(figure.bound->value, 5e-5 + 2e-6);
}

TEST(Measure, ThdPlusNoiseHasBothPartsOfTheRig) {
    const double sigma = 10.0 * 1e-4;
    const Waveform wave = record_of({sine(997.0, 10.0), sine(1994.0, 0.01)}, 2.0, sigma);
    const ToneFit fit = fitted(wave, Hertz{997.0});
    const BenchShare bench = shop_bench();
    const Figure figure = thd_plus_noise({wave, fit, 1, bench, {}}, {});
    ASSERT_TRUE(figure.value.has_value());
    const double in_band = sigma * std::sqrt(19980.0 / 24000.0);
    const double expected =
        std::sqrt(0.01 * 0.01 / 2.0 + in_band * in_band) / (10.0 / std::sqrt(2));
    EXPECT_NEAR(*figure.value, expected, 2.0 * expanded(figure.budget));
    EXPECT_GT(*figure.rig_added, 5e-5);
    EXPECT_NEAR(*figure.rig_cancelled, 5e-5, 1e-12);
    EXPECT_EQ(figure.conditions.weighting, Weighting::unweighted);
    EXPECT_EQ(figure.conditions.bandwidth, audio_band());
    const Figure ratio = sinad({wave, fit, 1, bench, {}}, {});
    EXPECT_NEAR(*ratio.value, -20.0 * std::log10(*figure.value), 0.01);
    EXPECT_GT(*ratio.rig_added, 0.0);
}

// --- Separation
// -------------------------------------------------------------------------------------

// Hum a thousand times the leak stands in the undriven channel.
std::vector<Partial> hum_beside(double leak) {
    return {sine(997.0, leak, 1.0), sine(50.0, 0.02), sine(100.0, 0.01), sine(150.0, 0.005)};
}

TEST(Measure, SeparationIsReadUnderHum) {
    const Waveform driven = record_of({sine(997.0, 4.0)}, 2.0, 1e-5);
    const Waveform quiet = record_of(hum_beside(4.0e-4), 2.0, 1e-5, 2);
    const ToneFit fit = fitted(driven, Hertz{997.0});
    const BenchShare bench = shop_bench();
    const Figure figure = channel_separation({driven, fit, 1, bench, {}}, quiet, 2, bench, 50_Hz);
    ASSERT_TRUE(figure.value.has_value()) << figure.unresolved;
    EXPECT_NEAR(*figure.value, 80.0, expanded(figure.budget));
    EXPECT_LT(expanded(figure.budget), 0.1);
    EXPECT_EQ(figure.pair, std::make_pair(1, 2));
    // A leak of 1e-5 in 1e-4: 0.915 dB one way, 0.828 the other (check values of coherent
    // residues).
    EXPECT_NEAR(*figure.rig_added, 0.915, 0.02);
    EXPECT_NEAR(*figure.rig_cancelled, 0.828, 0.02);
}

TEST(Measure, SeparationOfNothingIsAtLeast) {
    const Waveform driven = record_of({sine(997.0, 4.0)}, 2.0, 1e-5);
    const Waveform quiet = record_of(hum_beside(0.0), 2.0, 1e-5, 2);
    const ToneFit fit = fitted(driven, Hertz{997.0});
    BenchShare bench = shop_bench();
    bench.own_separation = AmplitudeRatio{0.0};
    const Figure figure = channel_separation({driven, fit, 1, bench, {}}, quiet, 2, bench, 50_Hz);
    ASSERT_TRUE(figure.bound.has_value());
    EXPECT_EQ(figure.bound->side, Bound::Side::at_least);
    // Noise of 10 uV in 96 000 samples: amplitude noise about 56 nV, k = 2 of it against 4 V.
    EXPECT_GT(figure.bound->value, 140.0);
    EXPECT_LT(figure.bound->value, 160.0);
}

TEST(Measure, SeparationNearTheNoiseIsCoveredByItsUncertainty) {
    // Leak 3 sigma above its noise; 300 draws. Where a reading stands, ±U holds the truth in about
    // 95 %; where only a bound stands, the truth lies on its side in at least as many.
    const double leak = 1.2e-6;
    const Waveform driven = record_of({sine(997.0, 1.0)}, 0.5, 1e-6);
    const ToneFit fit = fitted(driven, Hertz{997.0});
    BenchShare bench;
    int held = 0;
    constexpr int draws = 300;
    for (unsigned seed = 0; seed < draws; ++seed) {
        const Waveform quiet = record_of({sine(997.0, leak, 0.01 * seed)}, 0.5, 4e-5, seed + 10);
        const Figure figure =
            channel_separation({driven, fit, 1, bench, {}}, quiet, 2, bench, std::nullopt);
        const double truth = scored(figure.kind, -20.0 * std::log10(leak));
        if (figure.value) {
            const double y = scored(figure.kind, *figure.value);
            const double u = scored_change(figure.kind, *figure.value, expanded(figure.budget));
            held += std::abs(y - truth) <= u ? 1 : 0;
        } else {
            held += truth <= scored(figure.kind, figure.bound->value) ? 1 : 0;
        }
    }
    // 95.4 % less four deviations of a share of 300.
    EXPECT_GE(held, static_cast<int>(draws * (0.954 - 4.0 * 0.0121)));
}

TEST(Measure, AToneOnAMainsLineHasNoSeparation) {
    const Waveform driven = record_of({sine(1000.0, 4.0)}, 1.0, 1e-5);
    const ToneFit fit = fitted(driven, Hertz{1000.0});
    const BenchShare bench = shop_bench();
    const Figure figure = channel_separation({driven, fit, 1, bench, {}}, driven, 2, bench, 50_Hz);
    EXPECT_FALSE(figure.value.has_value());
    EXPECT_THAT(figure.unresolved, HasSubstr("mains line"));
}

TEST(Measure, AnUnconnectedChannelIsNoGoodSeparation) {
    const Waveform driven = record_of({sine(997.0, 4.0)}, 1.0, 1e-5);
    Waveform dead = driven;
    std::ranges::fill(dead.volts, 0.0);
    const ToneFit fit = fitted(driven, Hertz{997.0});
    const BenchShare bench = shop_bench();
    const Figure figure = channel_separation({driven, fit, 1, bench, {}}, dead, 2, bench, 50_Hz);
    EXPECT_FALSE(figure.bound.has_value());
    EXPECT_THAT(figure.unresolved, HasSubstr("connected"));
}

// --- Response
// ---------------------------------------------------------------------------------------

// First order at both ends: corners at `low` and `high`.
std::vector<ResponsePoint> band_pass(double low, double high, double step) {
    std::vector<ResponsePoint> points;
    for (double hertz = 5.0; hertz < 90000.0; hertz *= step) {
        const double up = hertz / low;
        const double down = hertz / high;
        points.push_back({Hertz{hertz},
                          up / std::sqrt(1.0 + up * up) / std::sqrt(1.0 + down * down), 0.0, 1e-4});
    }
    return points;
}

TEST(Measure, ResponseIsReferredAndItsReferenceIsCertain) {
    std::vector<ResponsePoint> points = band_pass(10.0, 50000.0, 1.25);
    points.push_back({Hertz{997.0}, 1.0, 0.0, 1e-4});
    std::ranges::reverse(points);
    const Figure figure = frequency_response(points, 1_kHz, 1, 0.02, {});
    ASSERT_TRUE(figure.curve.has_value());
    const Curve& curve = *figure.curve;
    EXPECT_TRUE(std::ranges::is_sorted(curve.frequency_hz));
    const auto at = std::ranges::find(curve.frequency_hz, 997.0) - curve.frequency_hz.begin();
    const auto i = static_cast<std::size_t>(at);
    EXPECT_EQ(curve.value[i], 0.0);
    EXPECT_EQ(curve.u_k1[i], 0.0);
    EXPECT_NEAR(curve.u_k1[0], std::hypot(0.02, 8.6859 * std::sqrt(2.0) * 1e-4), 1e-6);
    EXPECT_THAT(curve.phase_degrees, IsEmpty());
    EXPECT_EQ(figure.conditions.reference_frequency, Hertz{997.0});
    EXPECT_EQ(figure.rig_added, 0.0);
    EXPECT_FALSE(frequency_response(points, 1_kHz, 1, 0.0, {}).rig_added.has_value());
    EXPECT_THAT(frequency_response(band_pass(10.0, 5e4, 3.0), Hertz{3000.0}, 1, 0.0, {}).unresolved,
                HasSubstr("reference"));
}

TEST(Measure, BandwidthFindsTheCornersWithinItsUncertainty) {
    // A straight line over a third of an octave misses a first-order corner by a little: its bound
    // is in the budget, and the corner lies within U.
    for (const double step : {1.05, 1.26, 1.6, 2.0}) {
        std::vector<ResponsePoint> points = band_pass(12.0, 47000.0, step);
        const double up = 1000.0 / 12.0;
        const double down = 1000.0 / 47000.0;
        points.push_back(
            {1_kHz, up / std::sqrt(1.0 + up * up) / std::sqrt(1.0 + down * down), 0.0, 1e-4});
        const Figure response = frequency_response(points, 1_kHz, 1, 0.02, {});
        const Figure low = bandwidth(response, true, Gain{-3.0103});
        const Figure high = bandwidth(response, false, Gain{-3.0103});
        ASSERT_TRUE(low.value && high.value);
        EXPECT_EQ(low.kind, FigureKind::bandwidth_low);
        EXPECT_NEAR(*low.value, 12.0, expanded(low.budget)) << step;
        EXPECT_NEAR(*high.value, 47000.0, expanded(high.budget)) << step;
        EXPECT_EQ(low.conditions.fall, Gain{-3.0103});
    }
}

TEST(Measure, AResponseThatDoesNotFallIsABound) {
    std::vector<ResponsePoint> points;
    for (const double hertz : {19.7, 100.0, 1000.0, 10000.0, 19997.0}) {
        points.push_back({Hertz{hertz}, 1.0, 0.0, 1e-4});
    }
    const Figure response = frequency_response(points, 1_kHz, 1, 0.05, {});
    const Figure low = bandwidth(response, true, Gain{-3.0});
    const Figure high = bandwidth(response, false, Gain{-3.0});
    ASSERT_TRUE(low.bound && high.bound);
    EXPECT_NEAR(low.bound->value, 19.7, 1e-9);
    EXPECT_EQ(low.bound->side, Bound::Side::at_most);
    EXPECT_NEAR(high.bound->value, 19997.0, 1e-6);
    EXPECT_EQ(high.bound->side, Bound::Side::at_least);
    // So near to the fall that its uncertainty reaches it: the bound steps back.
    points.front().amplitude = amplitude_ratio(Gain{-2.95}).in<AmplitudeRatio>();
    const Figure doubtful =
        bandwidth(frequency_response(points, 1_kHz, 1, 0.05, {}), true, Gain{-3.0});
    EXPECT_GT(doubtful.bound->value, 19.7);
}

TEST(Measure, TheWorstPointUsesMostOfTheToleranceOnItsSide) {
    const Curve curve{{10.0, 19.7, 100.0, 10000.0, 30000.0},
                      {-9.0, -0.85, 0.3, 0.45, 4.0},
                      {},
                      {0.1, 0.2, 0.1, 0.1, 0.1}};
    const Band audio{20_Hz, 20_kHz};
    EXPECT_EQ(worst_of(curve, audio, -1.0, 0.5)->frequency, 10_kHz);
    EXPECT_EQ(worst_of(curve, audio, -0.8, 0.5)->frequency, Hertz{19.7});
    EXPECT_EQ(worst_of(curve, audio, -0.8, 0.5)->u_k1, 0.2);
    constexpr double none = std::numeric_limits<double>::infinity();
    EXPECT_EQ(worst_of(curve, audio, -none, 0.5)->value, 0.45);
    EXPECT_FALSE(worst_of(curve, Band{50_kHz, 60_kHz}, -1.0, 1.0).has_value());
    // The reference itself, at 0 dB, is nearer to +0.5 than the bass is to -1, and no worst point.
    const Curve falling{{20.0, 1000.0}, {-0.3, 0.0}, {}, {0.01, 0.0}};
    EXPECT_EQ(worst_of(falling, audio, -1.0, 0.5)->frequency, 20_Hz);
}

TEST(Measure, AnEndOfTheRangeBetweenTwoPointsIsAPointItself) {
    // A first-order high pass at 40 Hz, at tones a ninth apart, none of them near 20 Hz.
    Curve curve;
    const auto fall = [](double hertz) {
        return -10.0 * std::log10(1.0 + 40.0 * 40.0 / (hertz * hertz));
    };
    for (const double hertz : {14.5, 18.0, 22.5, 28.0, 1000.0, 20000.0}) {
        curve.frequency_hz.push_back(hertz);
        curve.value.push_back(fall(hertz));
        curve.u_k1.push_back(0.001);
    }
    const auto worst = worst_of(curve, Band{20_Hz, 20_kHz}, -1.0, 0.5);
    ASSERT_TRUE(worst);
    EXPECT_EQ(worst->frequency, 20_Hz);
    EXPECT_NEAR(worst->value, fall(20.0), 2.0 * worst->u_k1);
    EXPECT_LT(worst->u_k1, 0.1);
    EXPECT_GT(worst->u_k1, 0.001) << "what bends between the points is not known to 0.001 dB";
}

// --- Noise
// ------------------------------------------------------------------------------------------

TEST(Measure, NoiseAndItsRatioCarryTheSameDoubt) {
    const double sigma = 1e-3;
    const Waveform wave = record_of({}, 4.0, sigma);
    const BenchShare bench = shop_bench();
    const Figure volts = noise(wave, 1, {}, bench, {});
    ASSERT_TRUE(volts.value.has_value());
    const double truth = sigma * std::sqrt(19980.0 / 24000.0);
    EXPECT_NEAR(*volts.value, truth, expanded(volts.budget));
    EXPECT_NE(line_of(volts, bench.level_source), nullptr);
    EXPECT_EQ(volts.rig_cancelled, 0.0);
    EXPECT_EQ(volts.conditions.weighting, Weighting::unweighted);

    const VoltsRms rated = voltage_for(40_W, 8_ohm);
    const Figure ratio = signal_to_noise(volts, rated);
    EXPECT_NEAR(*ratio.value, 20.0 * std::log10(rated.in<VoltsRms>() / *volts.value), 1e-9);
    EXPECT_NEAR(combined(ratio.budget), 8.685889638 * combined(volts.budget) / *volts.value, 1e-9);
    ASSERT_TRUE(ratio.conditions.reference_level.has_value());
    EXPECT_EQ(ratio.rig_cancelled, 0.0);
    EXPECT_GT(*ratio.rig_added, 0.0);
}

TEST(Measure, HalfAMillivoltIsNinetyFiveDecibelsBelowAHundredWatts) {
    // Check values of S/N: 0.5 mV in 8 ohm is 62.04 dB re 50 mW, 75.05 dB re 1 W, 95.05 dB re 100
    // W.
    Figure volts;
    volts.kind = FigureKind::noise_voltage;
    volts.value = 0.5e-3;
    volts.budget = {{"record noise", BudgetLine::Kind::noise, 1e-6}};
    volts.rig_added = 0.0;
    volts.rig_cancelled = 0.0;
    EXPECT_NEAR(*signal_to_noise(volts, voltage_for(Watts{0.05}, 8_ohm)).value, 62.04, 0.005);
    EXPECT_NEAR(*signal_to_noise(volts, voltage_for(1_W, 8_ohm)).value, 75.05, 0.005);
    EXPECT_NEAR(*signal_to_noise(volts, voltage_for(100_W, 8_ohm)).value, 95.05, 0.005);
}

TEST(Measure, NoiseUnderTheRigsOwnIsLessThanAndItsRatioAtLeast) {
    const Waveform wave = record_of({}, 2.0, 30e-6);
    const BenchShare bench = shop_bench();
    const Figure volts = noise(wave, 1, {}, bench, {});
    ASSERT_TRUE(volts.bound.has_value());
    const Figure ratio = signal_to_noise(volts, 1_Vrms);
    ASSERT_TRUE(ratio.bound.has_value());
    EXPECT_EQ(ratio.bound->side, Bound::Side::at_least);
    EXPECT_NEAR(ratio.bound->value, -20.0 * std::log10(volts.bound->value), 1e-9);
    EXPECT_EQ(ratio.rig_cancelled, 0.0);
    EXPECT_FALSE(ratio.value.has_value());
}

TEST(Measure, HumIsEachLineAndAllOfThem) {
    const Waveform wave =
        record_of({sine(50.02, 1e-3 * std::sqrt(2.0)), sine(100.04, 5e-4 * std::sqrt(2.0)),
                   sine(150.06, 2e-4 * std::sqrt(2.0))},
                  2.0, 1e-5);
    const BenchShare bench = shop_bench();
    const Figure figure = hum_voltage(wave, 2, 50_Hz, bench, {});
    ASSERT_TRUE(figure.value.has_value()) << figure.unresolved;
    EXPECT_NEAR(*figure.value, std::sqrt(1e-6 + 25e-8 + 4e-8), expanded(figure.budget));
    EXPECT_NEAR(detail(figure, "line_1"), 1e-3, 2e-6);
    EXPECT_NEAR(detail(figure, "line_2"), 5e-4, 2e-6);
    EXPECT_NEAR(detail(figure, "mains_frequency"), 50.02, 0.005);
    // The rig's hum has the phase of the mains: it may hide some of the unit's.
    EXPECT_NEAR(*figure.rig_added, 5e-6, 1e-12);
    EXPECT_NEAR(*figure.rig_cancelled, 5e-6, 1e-12);
}

TEST(Measure, OffsetIsWhatTheMeterSaid) {
    const Figure figure = dc_offset(VoltsDc{-0.012}, 5e-4, "meter 2026-01-10", 2, {});
    EXPECT_EQ(figure.value, -0.012);
    EXPECT_EQ(combined(figure.budget), 5e-4);
    EXPECT_EQ(figure.budget.front().source, "meter 2026-01-10");
    EXPECT_EQ(figure.channel, 2);
    EXPECT_EQ(figure.rig_added, 0.0);
}

}  // namespace
}  // namespace afterload::analysis
