#include "analysis/two_tone.hpp"

#include "analysis/coarse_frequency.hpp"
#include "analysis/comb_fit.hpp"
#include "analysis/cosine_ends.hpp"
#include "analysis/line_sums.hpp"
#include "analysis/noise_floor.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <numbers>
#include <string>
#include <utility>

namespace afterload::analysis {

namespace {

using Kind = FigureFailure::Kind;

constexpr double two_pi = 2.0 * std::numbers::pi;
constexpr double highest_modelled = 0.49;  // of the rate
constexpr double rest = 1e-5;              // radians over the record: a fit that stands still
constexpr int mains_orders = 10;
constexpr int dc_degree = 1;

tl::unexpected<FigureFailure> failure(Kind kind, std::string what) {
    return tl::unexpected(FigureFailure{kind, std::move(what)});
}

std::optional<FigureFailure> unfit(WaveformView record, const TwoToneSettings& settings) {
    const double rate = record.rate.frequency().in<Hertz>();
    const double low = settings.low.in<Hertz>();
    const double high = settings.high.in<Hertz>();
    if (!(low > 0.0 && low < high && high < highest_modelled * rate)) {
        return FigureFailure{
            Kind::out_of_range,
            fmt::format("tones of {:g} Hz and {:g} Hz cannot be fitted at {:g} samples a second: "
                        "the first must be above 0, the second above it and below {:g} Hz",
                        low, high, rate, highest_modelled * rate)};
    }
    const double slowest = std::min(low, high - low);
    const double length = static_cast<double>(record.volts.size()) / rate;
    if (record.volts.size() < 64 || length * slowest < 2.0) {
        return FigureFailure{Kind::record_too_short,
                             fmt::format("{:.3g} s are too short for {:g} Hz and {:g} Hz: record "
                                         "{:.3g} s, two periods of the slowest between them",
                                         length, low, high, std::max(64.0 / rate, 2.0 / slowest))};
    }
    if (!std::all_of(record.volts.begin(), record.volts.end(),
                     [](double x) { return std::isfinite(x); })) {
        return FigureFailure{Kind::no_tone, "the record holds samples that are not finite"};
    }
    return std::nullopt;
}

// The frequencies of both tones, radians a sample.
struct Pair {
    double low = 0.0;
    double high = 0.0;
};

// Each tone on a clock of its own, in a record whose products may have been taken off.
std::optional<Pair> free_pair(std::span<const double> record, const CosineEnds& weight,
                              const Pair& start) {
    const FoldedRecord halves = folded(record, weight);
    CombFit fit{halves, weight, dc_degree};
    fit.add({start.low, {1}, true});
    fit.add({start.high, {1}, true});
    if (!fit.solve_amplitudes() || !fit.settle(rest, 8)) {
        return std::nullopt;
    }
    return Pair{fit.omega(0), fit.omega(1)};
}

struct Lines {
    std::vector<int> names;  // index into products + 2; 0 the low tone, 1 the high one
    std::vector<double> ratios;
    std::vector<Product> products;
    std::vector<MissedProduct> missed;
    std::vector<int> mains;
    std::vector<int> mains_left_out;
};

std::vector<Product> all_products(const Pair& pair, int highest) {
    std::vector<Product> all;
    for (int n = 0; n <= highest; ++n) {
        for (int m = -highest; m <= highest; ++m) {
            const int order = std::abs(m) + n;
            if (order < 2 || order > highest || (n == 0 && m < 0)) {
                continue;
            }
            const int sign = m * pair.low + n * pair.high < 0.0 ? -1 : 1;
            Product product;
            product.low_order = sign * m;
            product.high_order = sign * n;
            product.line.order = order;
            all.push_back(product);
        }
    }
    std::stable_sort(all.begin(), all.end(), [&](const Product& a, const Product& b) {
        const auto place = [&](const Product& p) {
            return p.low_order * pair.low + p.high_order * pair.high;
        };
        return std::pair{a.line.order, place(a)} < std::pair{b.line.order, place(b)};
    });
    return all;
}

// Which lines this record can tell apart. The tones come first, then the mains lines that do not
// stand beside a tone, then the products, lower orders before higher ones.
Lines lines_of(const Pair& pair, std::optional<double> mains, int highest, double length,
               double rate) {
    const double apart = 1.2 * two_pi / length;
    Lines lines;
    std::vector<double> taken{0.0, pair.low, pair.high};
    const auto near = [&](double omega, const std::vector<double>& others) {
        return std::any_of(others.begin(), others.end(),
                           [&](double other) { return std::abs(omega - other) < apart; });
    };
    std::vector<double> of_mains;
    for (int m = 1; mains && m <= mains_orders && m * *mains < two_pi * highest_modelled; ++m) {
        if (near(m * *mains, taken)) {
            lines.mains_left_out.push_back(m);
        } else if (*mains >= apart) {
            lines.mains.push_back(m);
            of_mains.push_back(m * *mains);
        }
    }
    lines.names = {0, 1};
    lines.ratios = {pair.low / pair.high, 1.0};
    for (const Product& product : all_products(pair, highest)) {
        const double omega = product.low_order * pair.low + product.high_order * pair.high;
        if (omega >= two_pi * highest_modelled) {
            continue;
        }
        const bool hum = near(omega, of_mains);
        if (hum || near(omega, taken)) {
            lines.missed.push_back(
                {product.low_order, product.high_order, Hertz{omega * rate / two_pi}, hum});
            continue;
        }
        taken.push_back(omega);
        lines.products.push_back(product);
        lines.names.push_back(static_cast<int>(lines.names.size()));
        lines.ratios.push_back(omega / pair.high);
    }
    return lines;
}

double rms(std::span<const double> x) {
    double sum = 0.0;
    for (const double v : x) {
        sum += v * v;
    }
    return std::sqrt(sum / static_cast<double>(x.size()));
}

// The mains lines join a fit whose tones stand; a clock they hardly tell is held at its start.
bool join_mains(CombFit& fit, std::span<const double> record, double nominal,
                const std::vector<int>& orders) {
    std::vector<double> residual(record.begin(), record.end());
    subtract(residual, fit.all_lines(), fit.dc());
    const double start = coarse_mains(residual, nominal, orders).value_or(nominal);
    const std::size_t mains = fit.add({start, orders, false});
    if (!fit.solve_amplitudes()) {
        return false;
    }
    fit.set_free(mains, true);
    if (!fit.step()) {
        return false;
    }
    residual.assign(record.begin(), record.end());
    subtract(residual, fit.all_lines(), fit.dc());
    const double unsure = 0.5 * static_cast<double>(record.size()) * rms(residual) *
                          std::sqrt(fit.omega_variance(mains));
    if (unsure > 0.3 || std::abs(fit.omega(mains) - nominal) > 0.015 * nominal) {
        fit.set_free(mains, false);
    }
    return true;
}

Line line_of(const FittedLine& fitted, SampleRate rate) {
    return {two_pi * (fitted.frequency / rate.frequency()),
            fitted.amplitude * std::cos(fitted.phase), -fitted.amplitude * std::sin(fitted.phase)};
}

}  // namespace

bool close_together(Hertz low, Hertz high) {
    return high < 3.0 * low;
}

Stimulus two_tones(const TwoTonePair& pair, VoltsRms level, bool left, bool right) {
    const double peak = peak_of_sine(level).in<VoltsPeak>();
    const double high = peak / (1.0 + pair.low_over_high);
    const Radians zero_crossing{-std::numbers::pi / 2};
    const std::vector<Partial> both{{pair.low, VoltsPeak{peak - high}, zero_crossing},
                                    {pair.high, VoltsPeak{high}, zero_crossing}};
    Stimulus stimulus;
    if (left) {
        stimulus.channels[0] = both;
    }
    if (right) {
        stimulus.channels[1] = both;
    }
    return stimulus;
}

const Product* TwoToneFit::product(int low_order, int high_order) const {
    const auto found = std::find_if(products.begin(), products.end(), [&](const Product& p) {
        return (p.low_order == low_order && p.high_order == high_order) ||
               (p.low_order == -low_order && p.high_order == -high_order);
    });
    return found == products.end() ? nullptr : &*found;
}

Expected<TwoToneFit> fit_two_tones(WaveformView record, const TwoToneSettings& settings) {
    if (auto why = unfit(record, settings)) {
        return tl::unexpected(*std::move(why));
    }
    const double rate = record.rate.frequency().in<Hertz>();
    const double length = static_cast<double>(record.volts.size());
    const auto omega_of = [&](Hertz frequency) {
        return two_pi * (frequency / record.rate.frequency());
    };
    const auto alike = [&] {
        return failure(
            Kind::ill_conditioned,
            fmt::format("two lines of the fit at {:g} Hz and {:g} Hz cannot be told "
                        "apart in {:.3g} s: take a longer record",
                        settings.low.in<Hertz>(), settings.high.in<Hertz>(), length / rate));
    };

    const CosineEnds weight{record.volts.size(), settings.ends};
    const FoldedRecord halves = folded(record.volts, weight);
    const auto reach = [&](double nominal) { return 1e-3 * nominal + 2.0 * two_pi / length; };
    const Pair nominal{omega_of(settings.low), omega_of(settings.high)};
    Pair start{coarse_tone(record.volts, nominal.low, reach(nominal.low)),
               coarse_tone(record.volts, nominal.high, reach(nominal.high))};
    std::optional<Pair> pair = free_pair(record.volts, weight, start);
    if (!pair) {
        return alike();
    }
    const auto astray = [&](double found, double expected) {
        return !(std::abs(found - expected) < 1.5 * reach(expected));
    };
    const auto no_tone = [&](Hertz which) {
        return failure(Kind::no_tone, fmt::format("nothing stands 20 dB above the noise near "
                                                  "{:g} Hz, one of the two tones",
                                                  which.in<Hertz>()));
    };
    if (astray(pair->low, nominal.low)) {
        return no_tone(settings.low);
    }
    if (astray(pair->high, nominal.high)) {
        return no_tone(settings.high);
    }

    std::optional<double> mains;
    if (settings.mains) {
        mains = omega_of(*settings.mains);
    }
    // Products pull at the ratio of the tones a little while they are not known: a second round
    // finds it in a record that they have been taken off.
    Lines lines;
    std::optional<CombFit> fit;
    for (int round = 0; round < 2; ++round) {
        lines = lines_of(*pair, mains, settings.highest_order, length, rate);
        if (length < 4.0 * static_cast<double>(lines.names.size() + lines.mains.size() + 2)) {
            return failure(Kind::record_too_short,
                           fmt::format("{} samples cannot carry {} lines", record.volts.size(),
                                       lines.names.size() + lines.mains.size()));
        }
        fit.emplace(halves, weight, dc_degree);
        Comb comb{pair->high, lines.names, true};
        comb.ratios = lines.ratios;
        fit->add(std::move(comb));
        if (!fit->solve_amplitudes()) {
            return alike();
        }
        if (mains && !lines.mains.empty() && !join_mains(*fit, record.volts, *mains, lines.mains)) {
            return alike();
        }
        if (!fit->settle(rest, 8)) {
            return alike();
        }
        if (round == 0) {
            std::vector<Line> all = fit->all_lines();
            all.erase(all.begin(), all.begin() + 2);
            std::vector<double> tones(record.volts.begin(), record.volts.end());
            subtract(tones, all, {});
            pair = free_pair(tones, weight, {fit->omega(0) * lines.ratios[0], fit->omega(0)});
            if (!pair) {
                return alike();
            }
        }
    }

    std::vector<double> residual(record.volts.begin(), record.volts.end());
    subtract(residual, fit->all_lines(), fit->dc());
    std::vector<double> places;
    for (const Line& line : fit->all_lines()) {
        places.push_back(line.omega * rate / two_pi);
    }
    const NoiseFloor floor{residual, record.rate, settings.ends, places};
    const auto fitted = [&](const CombLine& line, double omega, int order) {
        const Hertz frequency{line.ratio * omega * rate / two_pi};
        return FittedLine{order, frequency, line.amplitude(), line.phase(),
                          std::sqrt(line.variance * floor.variance_around(frequency))};
    };

    TwoToneFit result;
    const std::vector<CombLine>& found = fit->lines(0);
    result.low = fitted(found[0], fit->omega(0), 1);
    result.high = fitted(found[1], fit->omega(0), 1);
    for (std::size_t i = 0; i < lines.products.size(); ++i) {
        Product product = lines.products[i];
        product.line = fitted(found[i + 2], fit->omega(0), product.line.order);
        result.products.push_back(product);
    }
    if (!lines.mains.empty()) {
        for (const CombLine& line : fit->lines(1)) {
            result.mains.push_back(fitted(line, fit->omega(1), line.order));
        }
    }
    result.missed = std::move(lines.missed);
    result.mains_left_out = std::move(lines.mains_left_out);
    result.dc = fit->dc();
    result.residual_rms = rms(residual);
    result.length = Seconds{length / rate};
    result.rate = record.rate;
    for (const FittedLine* tone : {&result.low, &result.high}) {
        if (!(tone->amplitude > 10.0 * std::numbers::sqrt2 * tone->sigma)) {
            return no_tone(tone->frequency);
        }
    }
    return result;
}

Waveform without_two_tones(WaveformView record, const TwoToneFit& fit) {
    Waveform rest_of{{record.volts.begin(), record.volts.end()}, record.rate};
    std::vector<Line> lines{line_of(fit.low, record.rate), line_of(fit.high, record.rate)};
    for (const Product& product : fit.products) {
        lines.push_back(line_of(product.line, record.rate));
    }
    for (const FittedLine& line : fit.mains) {
        lines.push_back(line_of(line, record.rate));
    }
    subtract(rest_of.volts, lines, fit.dc);
    return rest_of;
}

}  // namespace afterload::analysis
