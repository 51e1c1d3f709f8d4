#include "analysis/tone.hpp"

#include "analysis/coarse_frequency.hpp"
#include "analysis/comb_fit.hpp"
#include "analysis/cosine_ends.hpp"
#include "analysis/line_sums.hpp"
#include "analysis/noise_floor.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <numbers>
#include <string>

namespace afterload::analysis {

namespace {

constexpr double two_pi = 2.0 * std::numbers::pi;
constexpr double highest_modelled = 0.49;  // of the rate
constexpr double rest = 1e-5;              // radians over the record: a fit that stands still
constexpr int mains_orders = 10;
constexpr double told_apart = 1.2;  // over the record: two lines so near are one

template <class... Args>
std::string said(const char* format, Args... args) {
    std::string text(static_cast<std::size_t>(std::snprintf(nullptr, 0, format, args...)), '\0');
    std::snprintf(text.data(), text.size() + 1, format, args...);
    return text;
}

tl::unexpected<FigureFailure> failure(FigureFailure::Kind kind, std::string what) {
    return tl::unexpected(FigureFailure{kind, std::move(what)});
}

std::vector<int> orders_up_to(int highest, double omega) {
    std::vector<int> orders;
    for (int k = 1; k <= highest && k * omega < two_pi * highest_modelled; ++k) {
        orders.push_back(k);
    }
    return orders;
}

// Mains orders that can be told from DC, from each other and from the tone's lines in this record.
struct MainsOrders {
    std::vector<int> fitted;
    std::vector<int> left_out;
};
MainsOrders mains_orders_beside(const std::vector<int>& tone_orders, double tone, double mains,
                                double length, int dc_degree) {
    const double apart = told_apart * two_pi / length;
    MainsOrders orders;
    for (int m = 1; m <= mains_orders && m * mains < two_pi * highest_modelled; ++m) {
        const bool near_tone = std::any_of(tone_orders.begin(), tone_orders.end(), [&](int k) {
            return std::abs(m * mains - k * tone) < apart;
        });
        const bool near_dc = m * mains < apart * (1.0 + 0.25 * dc_degree) || mains < apart;
        (near_tone || near_dc ? orders.left_out : orders.fitted).push_back(m);
    }
    return orders;
}

// In less than a period and a fifth no mains line is fitted: they are part of a slow curve, up to
// the order that stands clear of what such a curve can look like. The degree of the polynomial that
// is those lines to a millionth of them: Legendre's series of cos(xt) on [-1, 1] ends at about x
// + 5.
int degree_of_slow_mains(const ToneFitSettings& settings, SampleRate rate, double length) {
    constexpr double clear = 2.4;  // periods
    if (!settings.mains) {
        return 0;
    }
    const double cycles = length * (*settings.mains / rate.frequency());
    const int slow = std::min(mains_orders, static_cast<int>(std::ceil(clear / cycles)) - 1);
    return cycles < told_apart ? static_cast<int>(std::ceil(std::numbers::pi * slow * cycles)) + 5
                               : 0;
}

std::vector<Line> lines_of(const std::vector<FittedLine>& fitted, SampleRate rate) {
    std::vector<Line> lines;
    lines.reserve(fitted.size());
    for (const FittedLine& line : fitted) {
        lines.push_back({two_pi * (line.frequency / rate.frequency()),
                         line.amplitude * std::cos(line.phase),
                         -line.amplitude * std::sin(line.phase)});
    }
    return lines;
}

}  // namespace

Expected<ToneFit> fit_tone(WaveformView record, const ToneFitSettings& settings) {
    using Kind = FigureFailure::Kind;
    const std::size_t samples = record.volts.size();
    const double length = static_cast<double>(samples);
    const double rate = record.rate.frequency().in<Hertz>();
    const double nominal_hz = settings.nominal.in<Hertz>();
    if (!(nominal_hz > 0.0 && nominal_hz < highest_modelled * rate)) {
        return failure(
            Kind::out_of_range,
            said("a tone of %g Hz cannot be fitted at %g samples a second: its frequency "
                 "must be above 0 and below %g Hz",
                 nominal_hz, rate, highest_modelled * rate));
    }
    const double nominal = two_pi * nominal_hz / rate;
    const double cycles = length * nominal_hz / rate;
    if (samples < 64 || cycles < 2.0) {
        return failure(
            Kind::record_too_short,
            said("the record holds %zu samples and %.3g periods of %g Hz; a fit needs 64 "
                 "samples and two periods, that is %.3g s",
                 samples, cycles, nominal_hz, std::max(64.0 / rate, 2.0 / nominal_hz)));
    }
    if (!std::all_of(record.volts.begin(), record.volts.end(),
                     [](double x) { return std::isfinite(x); })) {
        return failure(Kind::no_tone, "the record holds samples that are not finite");
    }

    // A settled record still drifts: the straight line is always there.
    const int dc_degree =
        std::max({1, settings.dc_degree, degree_of_slow_mains(settings, record.rate, length)});
    const CosineEnds weight{samples, settings.ends};
    const FoldedRecord halves = folded(record.volts, weight);
    const double reach = 1e-3 * nominal + 2.0 * two_pi / length;
    const double coarse = coarse_tone(record.volts, nominal, reach);
    const auto no_tone = [&](double amplitude, double floor) {
        return failure(
            Kind::no_tone,
            said("nothing stands 20 dB above the noise within %.3g Hz of %g Hz (%.3g V peak "
                 "against %.3g V of noise in the same bandwidth)",
                 reach * rate / two_pi, nominal_hz, amplitude, floor));
    };
    const auto alike = [&] {
        return failure(Kind::ill_conditioned,
                       said("two lines of the fit at %g Hz cannot be told apart in %.3g s: take a "
                            "longer record or model fewer lines",
                            nominal_hz, length / rate));
    };

    // A small model finds the frequency; the whole one then needs a step or two. Over many cycles
    // the harmonics stand too far away to matter.
    const int small_orders =
        cycles > 50.0 ? 1 : std::min(3, std::max(1, settings.highest_harmonic));
    CombFit small{halves, weight, dc_degree};
    small.add({coarse, orders_up_to(small_orders, coarse), true});
    if (!small.solve_amplitudes()) {
        return alike();
    }
    if (!(small.lines(0)[0].amplitude() > 0.0)) {
        return no_tone(0.0, 0.0);
    }
    if (!small.settle(10.0 * rest, 8)) {
        return alike();
    }
    const double found = small.omega(0);
    if (!(std::abs(found - nominal) < 2.0 * reach && found > 0.0 &&
          found < two_pi * highest_modelled)) {
        return no_tone(small.lines(0)[0].amplitude(), small.lines(0)[0].amplitude());
    }

    CombFit fit{halves, weight, dc_degree};
    const std::vector<int> orders = orders_up_to(std::max(1, settings.highest_harmonic), found);
    const std::size_t tone = fit.add({found, orders, true});
    const std::size_t unknowns = 2 * orders.size() + static_cast<std::size_t>(dc_degree) + 2;
    if (samples < 2 * unknowns) {
        return failure(Kind::record_too_short,
                       said("%zu samples cannot carry %zu unknowns", samples, unknowns));
    }
    if (!fit.solve_amplitudes() || !fit.settle(rest, 6)) {
        return alike();
    }

    std::vector<double> residual(record.volts.begin(), record.volts.end());
    MainsOrders mains_orders_of;
    std::optional<std::size_t> mains;
    if (settings.mains) {
        const double nominal_mains = two_pi * (*settings.mains / record.rate.frequency());
        mains_orders_of =
            mains_orders_beside(orders, fit.omega(tone), nominal_mains, length, settings.dc_degree);
        if (!mains_orders_of.fitted.empty()) {
            // High and faint harmonics would not be seen among the mains lines.
            std::vector<Line> in_the_way = fit.all_lines();
            const double faint = 1e-3 * fit.lines(tone)[0].amplitude();
            std::erase_if(in_the_way, [&](const Line& line) {
                return line.omega > 4.0 * mains_orders * nominal_mains &&
                       std::hypot(line.cosine, line.sine) < faint;
            });
            subtract(residual, in_the_way, fit.dc());
            const double start = coarse_mains(residual, nominal_mains, mains_orders_of.fitted)
                                     .value_or(nominal_mains);
            mains_orders_of =
                mains_orders_beside(orders, fit.omega(tone), start, length, settings.dc_degree);
            mains = fit.add({start, mains_orders_of.fitted, false});
            if (!fit.solve_amplitudes()) {
                return alike();
            }
            // A clock that the lines hardly tell is held: it would only wander.
            fit.set_free(*mains, true);
            if (!fit.step()) {
                return alike();
            }
            const double left = weight.mean_square(record.volts) - fit.explained() / weight.sum();
            const double ends =
                0.5 * length * std::sqrt(std::max(left, 0.0) * fit.omega_variance(*mains));
            const double moved = std::abs(fit.omega(*mains) - nominal_mains);
            if (ends > 0.3 || moved > 0.015 * nominal_mains) {
                fit.set_free(*mains, false);
            }
            if (!fit.settle(rest, 8)) {
                return alike();
            }
            residual.assign(record.volts.begin(), record.volts.end());
        }
    }
    subtract(residual, fit.all_lines(), fit.dc());

    std::vector<double> line_frequencies;
    for (const Line& line : fit.all_lines()) {
        line_frequencies.push_back(line.omega * rate / two_pi);
    }
    const NoiseFloor floor{residual, record.rate, settings.ends, line_frequencies};
    const auto fitted_line = [&](const CombLine& line, double omega) {
        const Hertz frequency{line.order * omega * rate / two_pi};
        return FittedLine{line.order, frequency, line.amplitude(), line.phase(),
                          std::sqrt(line.variance * floor.variance_around(frequency))};
    };

    ToneFit result;
    for (const CombLine& line : fit.lines(tone)) {
        if (line.order == 1) {
            result.fundamental = fitted_line(line, fit.omega(tone));
        } else {
            result.harmonics.push_back(fitted_line(line, fit.omega(tone)));
        }
    }
    if (mains) {
        for (const CombLine& line : fit.lines(*mains)) {
            result.mains.push_back(fitted_line(line, fit.omega(*mains)));
        }
    }
    result.mains_left_out = mains_orders_of.left_out;
    result.frequency_u_k1 =
        std::sqrt(fit.omega_variance(tone) * floor.variance_around(result.fundamental.frequency)) *
        rate / two_pi;
    result.dc = fit.dc();
    result.residual_rms = std::sqrt(weight.mean_square(residual));
    result.length = Seconds{length / rate};
    result.rate = record.rate;
    result.noise_gain = weight.noise_gain();

    // Mean power that noise alone puts on an amplitude, 20 dB below which nothing is a tone.
    const double noise = std::numbers::sqrt2 * result.fundamental.sigma;
    if (!(result.fundamental.amplitude > 10.0 * noise) ||
        std::abs(fit.omega(tone) - nominal) > 1.2 * reach) {
        return no_tone(result.fundamental.amplitude, noise);
    }
    return result;
}

Waveform without_tone(WaveformView record, const ToneFit& fit) {
    Waveform rest_of{{record.volts.begin(), record.volts.end()}, record.rate};
    std::vector<FittedLine> all{fit.fundamental};
    all.insert(all.end(), fit.harmonics.begin(), fit.harmonics.end());
    all.insert(all.end(), fit.mains.begin(), fit.mains.end());
    subtract(rest_of.volts, lines_of(all, record.rate), fit.dc);
    return rest_of;
}

}  // namespace afterload::analysis
