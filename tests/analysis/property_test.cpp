// What holds for every record: a larger record has larger levels and the same ratios, channels have
// no favourite, what lies outside a band stays outside, and no finite record breaks anything.
#include "analysis/budget_advice.hpp"
#include "analysis/clipping.hpp"
#include "analysis/control_range.hpp"
#include "analysis/distortion_limit.hpp"
#include "analysis/input_sensitivity.hpp"
#include "analysis/level_linearity.hpp"
#include "analysis/level_ramp.hpp"
#include "analysis/output_impedance.hpp"
#include "analysis/phono_curve.hpp"
#include "analysis/power_bandwidth.hpp"
#include "tests/analysis/bench_and_fit.hpp"
#include "tests/analysis/synthesis.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <random>
#include <string>

namespace afterload::analysis {
namespace {

using namespace afterload::literals;
using test::Synthesis;

constexpr double rate = 48000.0;
constexpr Hertz nominal{997.0};

ToneFitSettings tone_settings() {
    ToneFitSettings settings;
    settings.nominal = nominal;
    settings.highest_harmonic = 9;
    return settings;
}

RampSettings ramp_settings() {
    RampSettings settings;
    settings.frequency = nominal;
    return settings;
}

// Every figure that one pair of records gives, by name. `left` was driven; `left_fit` and
// `right_fit` need not be theirs.
std::map<std::string, Figure> all_figures(WaveformView left, WaveformView right,
                                          const ToneFit& left_fit, const ToneFit& right_fit,
                                          const BenchShare& bench) {
    BenchShare open = bench;
    open.load.reset();
    const ToneRecord first{left, left_fit, 1, bench, {}};
    const ToneRecord second{right, right_fit, 2, bench, {}};
    const ToneRecord lighter{right, right_fit, 2, open, {}};
    const HarmonicBand band{9, default_upper_edge(left.rate)};
    const VoltsRms drive{0.1};
    std::map<std::string, Figure> figures;
    figures["output_voltage"] = output_voltage(first);
    figures["output_power"] = output_power(first);
    figures["frequency"] = frequency(first);
    figures["thd"] = thd(first, band, 2.0);
    figures["harmonics"] = harmonics(first, band);
    figures["thd_plus_noise"] = thd_plus_noise(first, NoiseSettings{});
    figures["sinad"] = sinad(first, NoiseSettings{});
    figures["gain"] = gain(first, drive);
    figures["channel_balance"] = channel_balance(first, second);
    figures["channel_separation"] = channel_separation(first, right, 2, bench, std::nullopt);
    figures["noise"] = noise(left, 1, NoiseSettings{}, bench, {});
    figures["signal_to_noise"] = signal_to_noise(figures["noise"], VoltsRms{2.83});
    figures["hum_voltage"] = hum_voltage(left, 1, 50_Hz, bench, {});
    const ResponsePoint points[] = {
        {nominal, left_fit.fundamental.amplitude, 0.0, 1e-4},
        {10_kHz, right_fit.fundamental.amplitude, 0.0, 1e-4},
    };
    const Figure response = frequency_response({points[0], points[1]}, nominal, 1, 0.01, {});
    figures["frequency_response"] = response;
    figures["bandwidth_high"] = bandwidth(response, false, Gain{-3.0});
    figures["equalisation_error"] =
        equalisation_error(response, PhonoCurve::iec_60098, {20_Hz, 20_kHz});
    figures["output_impedance"] = output_impedance({first, lighter, 1e-4, "", {}});
    figures["damping_factor"] = damping_factor(figures["output_impedance"], 8_ohm);
    figures["input_sensitivity"] =
        input_sensitivity(first, drive, VoltsRms{0.95 * left_fit.fundamental.amplitude / 1.4142});
    figures["level_linearity"] =
        level_linearity({{first, drive}, {second, drive}},
                        {VoltsRms{left_fit.fundamental.amplitude / 1.4142}, 0.0, ""});
    figures["short_term_power"] = short_term_power(left, 1, bench, ramp_settings(), {});
    figures["clipping_symmetry"] = clipping_symmetry(first);
    const DistortionApproach approach{0.01, figures["thd"].value.value_or(0.0), 0.0, 10.0};
    figures["distortion_limited_power"] = distortion_limited_power(first, approach);
    figures["overload_level"] = overload_level(first, drive, approach);
    figures["power_bandwidth"] = power_bandwidth(
        {{nominal,
          figures["output_power"].value ? Watts{*figures["output_power"].value} : Watts{0.0},
          approach.thd, 0.01}},
        {PowerBandwidthSettings::By::distortion, 1_W, 0.01, nominal, false}, 1, bench, {});
    figures["tone_range_error"] = tone_range_error({first, drive}, {second, drive}, Gain{10.0});
    figures["volume_tracking"] =
        volume_tracking(figures["channel_balance"], {{"-20 dB", channel_balance(second, first)}});
    return figures;
}

ToneFit fit_of_record(WaveformView record) {
    const auto fit = fit_tone(record, tone_settings());
    EXPECT_TRUE(fit.has_value());
    return fit.value_or(ToneFit{});
}

std::map<std::string, Figure> figures_of(WaveformView left, WaveformView right) {
    return all_figures(left, right, fit_of_record(left), fit_of_record(right), test::shop_bench());
}

// --- Scale

Synthesis tone_with_everything(std::uint64_t seed, double seconds = 0.5) {
    Synthesis record{rate, seconds};
    record.line(997.1, 2.0, 0.4).line(2.0 * 997.1, 2e-3, 1.0).line(3.0 * 997.1, 1e-3, 2.0);
    record.line(50.0, 1e-3, 0.3).noise(1e-4, seed);
    return record;
}

// By how many powers of the record's scale a figure grows; absent: ratios, which stay.
int power_of_scale(FigureKind kind) {
    switch (unit_of(kind)) {
        case Unit::volt:
            return kind == FigureKind::input_sensitivity || kind == FigureKind::overload_level ? 0
                                                                                               : 1;
        case Unit::watt:
            return 2;
        default:
            return 0;
    }
}

TEST(Property, ARecordScaledScalesLevelsAndLeavesRatiosAlone) {
    Synthesis left = tone_with_everything(1);
    Synthesis right = tone_with_everything(2);
    const auto plain = figures_of(left, right);
    constexpr double k = 3.7;
    for (Synthesis* record : {&left, &right}) {
        for (double& volts : record->volts()) {
            volts *= k;
        }
    }
    const auto scaled = figures_of(left, right);
    int compared = 0;
    for (const auto& [name, figure] : plain) {
        const Figure& other = scaled.at(name);
        ASSERT_EQ(figure.value.has_value(), other.value.has_value()) << name;
        if (!figure.value || name == "power_bandwidth") {
            continue;
        }
        ++compared;
        const double factor = std::pow(k, power_of_scale(figure.kind));
        // A gain of the unit rises; a signal-to-noise re fixed volts falls.
        double shift = 0.0;
        shift += name == "gain" ? test::decibels(k) : 0.0;
        shift -= name == "signal_to_noise" ? test::decibels(k) : 0.0;
        EXPECT_NEAR(*other.value, factor * *figure.value + shift,
                    1e-7 * std::abs(factor * *figure.value) + 1e-9)
            << name;
        EXPECT_NEAR(combined(other.budget), factor * combined(figure.budget),
                    1e-6 * factor * combined(figure.budget) + 1e-15)
            << name;
    }
    EXPECT_GE(compared, 14);
}

TEST(Property, ClippingIsTheSameAtAnyScaleAndMirrors) {
    const auto symmetry = [](double scale) {
        Synthesis record{96000.0, 0.4};
        record.line(997.0, 21.0, 0.7);
        for (double& volts : record.volts()) {
            volts = scale * std::clamp(volts, -20.0, 18.0);
        }
        const ToneFit fit = fit_of_record(record);
        const BenchShare bench = test::shop_bench();
        return clipping_symmetry({record, fit, 1, bench, {}});
    };
    const double plain = *symmetry(1.0).value;
    EXPECT_NEAR(*symmetry(0.01).value, plain, 1e-9);
    EXPECT_NEAR(*symmetry(-1.0).value, 1.0 / plain, 1e-6);
}

// --- Channels

TEST(Property, ChannelsSwappedSwapTheirFigures) {
    const Synthesis one = tone_with_everything(3);
    Synthesis two = tone_with_everything(4);
    for (double& volts : two.volts()) {
        volts *= 0.9;
    }
    const auto plain = figures_of(one, two);
    const auto swapped = figures_of(two, one);
    EXPECT_NEAR(*plain.at("channel_balance").value, -*swapped.at("channel_balance").value, 1e-12);
    EXPECT_NEAR(*plain.at("volume_tracking").value, -*swapped.at("volume_tracking").value, 1e-12);
    EXPECT_NEAR(*plain.at("level_linearity").value, -*swapped.at("level_linearity").value, 1e-12);
    // The other channel's own record gives the other channel's figure, whichever is named first.
    const BenchShare bench = test::shop_bench();
    const ToneFit fit = fit_of_record(two);
    EXPECT_EQ(*swapped.at("output_voltage").value, *output_voltage({two, fit, 1, bench, {}}).value);
}

// --- Outside the band

void expect_unmoved(const std::map<std::string, Figure>& plain,
                    const std::map<std::string, Figure>& moved,
                    std::initializer_list<const char*> names) {
    for (const std::string name : names) {
        const Figure& figure = plain.at(name);
        const Figure& other = moved.at(name);
        ASSERT_EQ(figure.value.has_value(), other.value.has_value()) << name << other.unresolved;
        if (figure.value) {
            const double reach = std::hypot(expanded(figure.budget), expanded(other.budget));
            EXPECT_LE(std::abs(*figure.value - *other.value), reach) << name;
        }
    }
}

TEST(Property, ADcOffsetLeavesEveryFigureAlone) {
    const auto plain = figures_of(tone_with_everything(5), tone_with_everything(6));
    const auto moved =
        figures_of(tone_with_everything(5).dc(0.7), tone_with_everything(6).dc(-0.4));
    expect_unmoved(plain, moved,
                   {"output_voltage", "output_power", "frequency", "thd", "thd_plus_noise", "sinad",
                    "gain", "channel_balance", "channel_separation", "output_impedance",
                    "input_sensitivity", "level_linearity", "hum_voltage", "tone_range_error",
                    "volume_tracking", "distortion_limited_power", "overload_level"});
}

TEST(Property, AToneOutsideTheBandLeavesTheFiguresInsideAlone) {
    const auto plain = figures_of(tone_with_everything(7), tone_with_everything(8));
    const auto moved = figures_of(tone_with_everything(7).line(22500.0, 0.2, 0.1),
                                  tone_with_everything(8).line(22500.0, 0.2, 0.9));
    expect_unmoved(plain, moved,
                   {"output_voltage", "output_power", "frequency", "thd", "thd_plus_noise", "sinad",
                    "gain", "channel_balance", "channel_separation", "output_impedance",
                    "input_sensitivity", "level_linearity", "hum_voltage", "tone_range_error",
                    "volume_tracking", "distortion_limited_power", "overload_level"});
}

// --- Any record at all

bool all_numbers(const Figure& figure, std::string& which) {
    const auto good = [&which](double number, const std::string& what) {
        if (std::isfinite(number)) {
            return true;
        }
        which = what;
        return false;
    };
    bool fine = !figure.value || good(*figure.value, "value");
    fine = fine && (!figure.bound || good(figure.bound->value, "bound"));
    fine = fine && (!figure.rig_added || good(*figure.rig_added, "rig_added"));
    fine = fine && (!figure.rig_cancelled || good(*figure.rig_cancelled, "rig_cancelled"));
    for (const BudgetLine& line : figure.budget) {
        fine = fine && good(line.u_k1, line.source);
    }
    for (const auto& [name, number] : figure.details) {
        fine = fine && good(number, name);
    }
    for (const HarmonicRow& row : figure.table) {
        fine = fine && good(row.ratio, "ratio") && good(row.u_k1, "u of a harmonic") &&
               good(row.phase_degrees, "phase");
    }
    if (figure.curve) {
        for (const double number : figure.curve->value) {
            fine = fine && good(number, "curve");
        }
    }
    return fine;
}

bool says_something(const Figure& figure) {
    return figure.value || figure.bound || !figure.unresolved.empty() || figure.curve ||
           !figure.table.empty();
}

// Volts from 1e-60 to 1e60: a file of single precision ends at 1e38, and beyond 1e70 the fourth
// power that a variance needs is no double any more.
std::vector<double> any_record(std::mt19937_64& engine) {
    static constexpr std::size_t lengths[] = {0,   1,   2,    3,    63,   64,   65,
                                              100, 255, 1000, 4801, 9600, 24000};
    std::uniform_int_distribution<std::size_t> which{0, std::size(lengths) - 1};
    std::uniform_int_distribution<int> shape{0, 9};
    std::uniform_int_distribution<int> exponent{-60, 60};
    std::normal_distribution<double> normal{0.0, 1.0};
    std::vector<double> volts(lengths[which(engine)], 0.0);
    const double scale = std::pow(10.0, exponent(engine));
    const int kind = shape(engine);
    for (std::size_t n = 0; n < volts.size(); ++n) {
        const double turns = 997.0 / rate * static_cast<double>(n);
        const double sine = std::sin(test::two_pi * turns);
        switch (kind) {
            case 0:
                volts[n] = 0.0;
                break;
            case 1:
                volts[n] = scale;
                break;
            case 2:
                volts[n] = n == volts.size() / 2 ? scale : 0.0;
                break;
            case 3:
                volts[n] = scale * normal(engine);
                break;
            case 4:
                volts[n] = scale * sine;
                break;
            case 5:
                volts[n] = scale * (sine > 0.0 ? 1.0 : -1.0);
                break;
            case 6:
                volts[n] = scale * (n % 2 == 0 ? 1.0 : -1.0);
                break;
            case 7:
                volts[n] = scale * std::clamp(1.3 * sine, -1.0, 0.9);
                break;
            case 8:
                volts[n] = n < volts.size() / 2 ? scale * sine : 0.0;
                break;
            default:
                volts[n] = scale * sine * std::pow(2.0, static_cast<double>(n) / 9600.0);
        }
    }
    return volts;
}

TEST(Property, NoFiniteRecordGivesANumberThatIsNone) {
    constexpr std::uint64_t seed = 20260304;
    std::mt19937_64 engine{seed};
    const ToneFit good = fit_of_record(tone_with_everything(9));
    std::map<std::string, int> resolved;
    for (int draw = 0; draw < 150; ++draw) {
        const Waveform left{any_record(engine), SampleRate{rate}};
        const Waveform right{any_record(engine), SampleRate{rate}};
        // A record without a tone is read with a fit that is not its own: nothing may break.
        const ToneFit left_fit = fit_tone(left, tone_settings()).value_or(good);
        const ToneFit right_fit = fit_tone(right, tone_settings()).value_or(good);
        BenchShare bench = test::shop_bench();
        bench.present = draw % 2 == 0;
        for (const auto& [name, figure] : all_figures(left, right, left_fit, right_fit, bench)) {
            std::string which;
            EXPECT_TRUE(all_numbers(figure, which))
                << name << ": " << which << ", draw " << draw << " of seed " << seed;
            EXPECT_TRUE(says_something(figure)) << name << ", draw " << draw;
            resolved[name] += figure.unresolved.empty() ? 1 : 0;
            EXPECT_NO_THROW((void)what_would_shrink(figure)) << name;
        }
    }
    // Had no record ever got as far as a figure, nothing would have been tried.
    for (const auto& [name, count] : resolved) {
        EXPECT_GT(count, 0) << name;
    }
}

}  // namespace
}  // namespace afterload::analysis
