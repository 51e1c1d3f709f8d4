#include "analysis/noise.hpp"

#include "analysis/band_power.hpp"
#include "analysis/coarse_frequency.hpp"
#include "analysis/comb_fit.hpp"
#include "analysis/debiased_power.hpp"
#include "analysis/level.hpp"
#include "analysis/noise_floor.hpp"
#include "analysis/quiet_record.hpp"
#include "analysis/weighting.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <numbers>
#include <optional>
#include <string>
#include <vector>

namespace afterload::analysis {

namespace {

constexpr double two_pi = 2.0 * std::numbers::pi;
constexpr double ends = 0.1;
constexpr int hum_orders = 10;

void add_lines(Periodogram::Power& power, const std::vector<FittedLine>& lines,
               const NoiseSettings& settings) {
    for (const FittedLine& line : lines) {
        if (line.frequency < settings.bandwidth.low || line.frequency > settings.bandwidth.high) {
            continue;
        }
        const double gain = weight_of(settings.weighting, line.frequency).in<PowerRatio>();
        const double deviation = gain * line.amplitude * line.sigma;
        power.value += gain * 0.5 * line.amplitude * line.amplitude;
        power.variance += deviation * deviation;
    }
}

}  // namespace

Band audio_band() {
    return {Hertz{20.0}, Hertz{20000.0}};
}

Band broadcast_band() {
    return {Hertz{22.4}, Hertz{22400.0}};
}

std::optional<FigureFailure> unfit_for(WaveformView record, Band band) {
    using Kind = FigureFailure::Kind;
    const double rate = record.rate.frequency().in<Hertz>();
    const double low = band.low.in<Hertz>();
    const double high = band.high.in<Hertz>();
    char what[200];
    if (!(low >= 0.0 && low < high && high < 0.5 * rate)) {
        std::snprintf(what, sizeof what,
                      "the band %g Hz to %g Hz does not lie below %g Hz, half the sample rate", low,
                      high, 0.5 * rate);
        return FigureFailure{Kind::out_of_range, what};
    }
    const double length = static_cast<double>(record.volts.size()) / rate;
    const double least = std::max(low > 0.0 ? 2.0 / low : 0.0, 64.0 / rate);
    // A record that was meant to be just long enough is.
    if (length < least * (1.0 - 1e-9)) {
        std::snprintf(what, sizeof what,
                      "%.3g s are too short for a band from %g Hz: record %.3g s, two periods",
                      length, low, least);
        return FigureFailure{Kind::record_too_short, what};
    }
    return std::nullopt;
}

Expected<Estimate> noise_voltage(WaveformView record, const NoiseSettings& settings) {
    if (const auto failure = unfit_for(record, settings.bandwidth)) {
        return tl::unexpected(*failure);
    }
    if (settings.detector == Detector::quasi_peak) {
        return QuietRecord{record, std::nullopt}.noise(settings);
    }
    return Periodogram{record}.within(settings.bandwidth, settings.weighting).rms();
}

Expected<Estimate> thd_plus_noise(WaveformView record, const ToneFit& fit,
                                  const NoiseSettings& settings) {
    if (const auto failure = unfit_for(record, settings.bandwidth)) {
        return tl::unexpected(*failure);
    }
    // Lines that were fitted are known to their own deviations. Left in the transform, the foot of
    // a line would pass for noise and widen the uncertainty.
    Periodogram::Power power =
        Periodogram{without_tone(record, fit)}.within(settings.bandwidth, settings.weighting);
    add_lines(power, fit.harmonics, settings);
    add_lines(power, fit.mains, settings);
    const Estimate rest = power.rms();
    const double fundamental = fit.fundamental.amplitude / std::numbers::sqrt2;
    Estimate ratio;
    ratio.value = rest.value / fundamental;
    ratio.u_k1 = std::hypot(rest.u_k1 / fundamental,
                            ratio.value * fit.fundamental.sigma / fit.fundamental.amplitude);
    return ratio;
}

Estimate sinad_of(const Estimate& thd_plus_noise) {
    Estimate decibels;
    decibels.value = -gain_of(AmplitudeRatio{thd_plus_noise.value}).decibels();
    // d(20 lg r) = (20 / ln 10) dr / r
    decibels.u_k1 = thd_plus_noise.value > 0.0
                        ? 20.0 / std::numbers::ln10 * thd_plus_noise.u_k1 / thd_plus_noise.value
                        : 0.0;
    return decibels;
}

Expected<Estimate> sinad(WaveformView record, const ToneFit& fit, const NoiseSettings& settings) {
    const Expected<Estimate> ratio = thd_plus_noise(record, fit, settings);
    return ratio ? Expected<Estimate>{sinad_of(*ratio)} : ratio;
}

Expected<Hum> hum(WaveformView record, Hertz nominal_mains) {
    using Kind = FigureFailure::Kind;
    const double rate = record.rate.frequency().in<Hertz>();
    const double length = static_cast<double>(record.volts.size());
    const double omega = two_pi * nominal_mains.in<Hertz>() / rate;
    if (length / rate < 0.1 * (1.0 - 1e-9)) {
        char what[100];
        std::snprintf(what, sizeof what, "%.3g s are too short for hum lines: record 0.1 s",
                      length / rate);
        return tl::unexpected(FigureFailure{Kind::record_too_short, what});
    }
    std::vector<int> orders;
    for (int order = 1; order <= hum_orders && order * omega < 0.98 * std::numbers::pi; ++order) {
        orders.push_back(order);
    }

    // The mains' lines move by tens of their widths within ±0.5 Hz: their clock is found first.
    const CosineEnds weight{record.volts.size(), ends};
    const FoldedRecord halves = folded(record.volts, weight);
    CombFit fit{halves, weight, 1};
    const double start = coarse_mains(record.volts, omega, orders).value_or(omega);
    const std::size_t mains = fit.add({start, orders, true});
    const auto regular = [&] {
        if (!fit.solve_amplitudes()) {
            return false;
        }
        std::vector<double> rest(record.volts.begin(), record.volts.end());
        subtract(rest, fit.all_lines(), fit.dc());
        double squares = 0.0;
        for (const double x : rest) {
            squares += x * x;
        }
        if (!fit.step()) {
            return false;
        }
        const double unsure =
            0.5 * length * std::sqrt(squares / length * fit.omega_variance(mains));
        if (unsure > 0.3 || std::abs(fit.omega(mains) - omega) > 0.01 * omega) {
            fit.set_free(mains, false);
        }
        return fit.settle(1e-5, 8);
    };
    if (!regular()) {
        return tl::unexpected(
            FigureFailure{Kind::ill_conditioned, "the mains lines cannot be told apart"});
    }

    std::vector<double> rest(record.volts.begin(), record.volts.end());
    subtract(rest, fit.all_lines(), fit.dc());
    std::vector<double> lines;
    lines.reserve(orders.size());
    for (const int order : orders) {
        lines.push_back(order * fit.omega(mains) * rate / two_pi);
    }
    const NoiseFloor floor{rest, record.rate, ends, lines};
    Hum result;
    DebiasedPower together;
    const double to_rms = 1.0 / std::numbers::sqrt2;
    for (const CombLine& line : fit.lines(mains)) {
        const Hertz frequency{line.order * fit.omega(mains) * rate / two_pi};
        const double sigma = std::sqrt(line.variance * floor.variance_around(frequency));
        DebiasedPower alone;
        alone.add(line.amplitude(), sigma);
        together.add(line.amplitude(), sigma);
        result.lines.push_back({line.order,
                                frequency,
                                alone.root(to_rms),
                                {line.order, frequency, line.amplitude(), line.phase(), sigma}});
    }
    result.together = together.root(to_rms);
    return result;
}

Expected<Density> noise_density(WaveformView record, Band band, int columns) {
    if (const auto failure = unfit_for(record, band)) {
        return tl::unexpected(*failure);
    }
    if (columns < 1 || !(band.low > Hertz{0.0})) {
        return tl::unexpected(
            FigureFailure{FigureFailure::Kind::out_of_range,
                          "a logarithmic axis needs a column and a band above 0 Hz"});
    }
    const Periodogram periodogram{record};
    const double low = band.low.in<Hertz>();
    const double step = std::log(band.high / band.low) / columns;
    Density density;
    for (int column = 0; column < columns; ++column) {
        const Hertz from{low * std::exp(step * column)};
        const Hertz to{low * std::exp(step * (column + 1))};
        const double power = periodogram.within({from, to}, Weighting::unweighted).value;
        density.frequency_hz.push_back(low * std::exp(step * (column + 0.5)));
        density.volts_per_root_hz.push_back(std::sqrt(power / (to - from).in<Hertz>()));
    }
    return density;
}

}  // namespace afterload::analysis
