#include "analysis/multitone_source.hpp"

#include "analysis/comb_fit.hpp"
#include "analysis/cosine_ends.hpp"
#include "analysis/line_sums.hpp"
#include "analysis/transform.hpp"
#include "analysis/window.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>

namespace afterload::analysis {

namespace {

constexpr double two_pi = 2.0 * std::numbers::pi;
constexpr double ends = 0.1;
constexpr double least_share = 1e-3;  // of the strongest line: 60 dB
constexpr double most_left = 0.01;    // of the rms, after all lines are taken off
constexpr std::size_t most_tones = 256;
constexpr std::size_t most_samples = std::size_t{1} << 20;
constexpr double longest_repeat = 20.0;

/// The part of the file that sounds, in all channels alike.
struct Sounding {
    std::size_t first = 0;
    std::size_t count = 0;
};

Sounding sounding_part(const std::vector<WaveformView>& stimulus) {
    constexpr double silence = 1e-4;  // of the peak
    const std::size_t length = stimulus.front().volts.size();
    double peak = 0.0;
    for (const WaveformView& channel : stimulus) {
        for (const double x : channel.volts) {
            peak = std::max(peak, std::abs(x));
        }
    }
    const auto sounds = [&](std::size_t n) {
        return std::any_of(stimulus.begin(), stimulus.end(), [&](const WaveformView& channel) {
            return std::abs(channel.volts[n]) > silence * peak;
        });
    };
    std::size_t first = 0;
    while (first < length && !sounds(first)) {
        ++first;
    }
    std::size_t end = length;
    while (end > first && !sounds(end - 1)) {
        --end;
    }
    // Tones need no more than this to be known to the last digit that a file holds.
    const std::size_t spare = end - first > most_samples ? (end - first - most_samples) / 2 : 0;
    return {first + spare, end - first - 2 * spare};
}

double rms(std::span<const double> samples) {
    double sum = 0.0;
    for (const double x : samples) {
        sum += x * x;
    }
    return std::sqrt(sum / static_cast<double>(samples.size()));
}

/// Frequencies, radians a sample, of the lines in `record` that are at least `least` high, stand
/// out of the noise and are within 60 dB of the highest, strongest first. Side lobes are lower (92
/// dB).
std::vector<double> peaks(std::span<const double> record, double least) {
    const std::size_t length = good_length_at_most(record.size());
    const std::vector<double> w = window(WindowKind::blackman_harris_4, length);
    std::vector<double> weighted(length);
    double sum = 0.0;
    for (std::size_t n = 0; n < length; ++n) {
        weighted[n] = w[n] * record[n];
        sum += w[n];
    }
    const RealTransform transform{length};
    const std::vector<std::complex<double>> bins = transform.forward(weighted);
    std::vector<double> height(bins.size());
    for (std::size_t k = 0; k < bins.size(); ++k) {
        height[k] = 2.0 * std::abs(bins[k]) / sum;
    }
    std::vector<double> sorted = height;
    const auto middle = sorted.begin() + static_cast<std::ptrdiff_t>(sorted.size() / 2);
    std::nth_element(sorted.begin(), middle, sorted.end());
    const double highest = *std::max_element(height.begin(), height.end());
    const double threshold = std::max({least, least_share * highest, 10.0 * *middle});
    struct Peak {
        double height;
        double omega;
    };
    std::vector<Peak> found;
    for (std::size_t k = 2; k + 2 < height.size(); ++k) {
        if (height[k] < threshold || height[k] < height[k - 1] || height[k] <= height[k + 1]) {
            continue;
        }
        const double a = std::log(std::max(height[k - 1], 1e-300));
        const double b = std::log(std::max(height[k], 1e-300));
        const double c = std::log(std::max(height[k + 1], 1e-300));
        const double curve = a - 2.0 * b + c;
        const double shift = curve < 0.0 ? std::clamp(0.5 * (a - c) / curve, -0.5, 0.5) : 0.0;
        found.push_back(
            {height[k], two_pi * (static_cast<double>(k) + shift) / static_cast<double>(length)});
    }
    std::sort(found.begin(), found.end(),
              [](const Peak& a, const Peak& b) { return a.height > b.height; });
    std::vector<double> omegas;
    omegas.reserve(found.size());
    for (const Peak& peak : found) {
        omegas.push_back(peak.omega);
    }
    return omegas;
}

struct Fitted {
    std::vector<Line> lines;
    double unexplained = 0.0;            // variance of what is left
    std::vector<double> line_variances;  // for unit variance
};

/// All lines at once, each with a frequency of its own.
std::optional<Fitted> fit_lines(std::span<const double> record, const std::vector<double>& omegas,
                                std::vector<double>& residual) {
    const CosineEnds weight{record.size(), ends};
    const FoldedRecord halves = folded(record, weight);
    CombFit fit{halves, weight, 0};
    for (const double omega : omegas) {
        fit.add({omega, {1}, true});
    }
    if (!fit.solve_amplitudes() || !fit.settle(1e-7, 10)) {
        return std::nullopt;
    }
    Fitted fitted;
    fitted.lines = fit.all_lines();
    for (std::size_t g = 0; g < omegas.size(); ++g) {
        fitted.line_variances.push_back(fit.lines(g).front().variance);
    }
    residual.assign(record.begin(), record.end());
    subtract(residual, fitted.lines, fit.dc());
    const double left = rms(residual);
    fitted.unexplained = left * left;
    return fitted;
}

tl::unexpected<FigureFailure> refused(FigureFailure::Kind kind, std::string what) {
    return tl::unexpected(FigureFailure{kind, std::move(what)});
}

Expected<std::vector<SourceTone>> tones_of_channel(std::span<const double> record, double rate,
                                                   double first) {
    using Kind = FigureFailure::Kind;
    constexpr int rounds = 4;
    const double length = static_cast<double>(record.size());
    const double whole = rms(record);
    const auto not_steady = [&](double left) {
        return refused(Kind::no_tone,
                       fmt::format("it is no sum of steady tones: {:.3g} % of its rms is something "
                                   "else",
                                   100.0 * left / whole));
    };
    std::vector<double> residual(record.begin(), record.end());
    std::vector<double> omegas;
    std::optional<Fitted> fitted;
    double strongest = 0.0;
    for (int round = 0; round < rounds; ++round) {
        std::size_t added = 0;
        for (const double omega : peaks(residual, least_share * strongest)) {
            const bool stands_free = std::none_of(omegas.begin(), omegas.end(), [&](double other) {
                return std::abs(other - omega) < 2.0 * two_pi / length;
            });
            if (stands_free && omega > 2.0 * two_pi / length && omegas.size() < most_tones) {
                omegas.push_back(omega);
                ++added;
            }
        }
        if (added == 0) {
            break;
        }
        // Sixty unknown frequencies and more in what is only noise: not worth a fit.
        if (3 * omegas.size() + 1 > record.size() / 4) {
            return not_steady(whole);
        }
        fitted = fit_lines(record, omegas, residual);
        if (!fitted) {
            return refused(Kind::ill_conditioned, "two of its lines cannot be told apart");
        }
        for (std::size_t i = 0; i < omegas.size(); ++i) {
            omegas[i] = fitted->lines[i].omega;
            strongest =
                std::max(strongest, std::hypot(fitted->lines[i].cosine, fitted->lines[i].sine));
        }
        if (rms(residual) > 0.7 * whole && round > 0) {
            break;
        }
    }
    if (!fitted) {
        return not_steady(whole);
    }
    if (!(std::sqrt(fitted->unexplained) < most_left * whole)) {
        return not_steady(std::sqrt(fitted->unexplained));
    }
    std::vector<SourceTone> tones;
    const double middle = first + 0.5 * (length - 1.0);
    for (std::size_t i = 0; i < fitted->lines.size(); ++i) {
        const Line& line = fitted->lines[i];
        const double amplitude = std::hypot(line.cosine, line.sine);
        if (amplitude < least_share * strongest) {
            continue;
        }
        const double phase = std::atan2(-line.sine, line.cosine) - line.omega * middle;
        tones.push_back({Hertz{line.omega * rate / two_pi}, amplitude,
                         std::remainder(phase, two_pi),
                         std::sqrt(fitted->line_variances[i] * fitted->unexplained)});
    }
    std::sort(tones.begin(), tones.end(),
              [](const SourceTone& a, const SourceTone& b) { return a.frequency < b.frequency; });
    return tones;
}

/// The period of the grid on which all tones lie, by Euclid's algorithm; nothing without one.
std::optional<double> grid_period(const MultitoneSource& source, double length) {
    const double blur = 0.02 / length;  // Hz
    double grid = 0.0;
    for (const auto& channel : source.channels) {
        for (const SourceTone& tone : channel) {
            double a = tone.frequency.in<Hertz>();
            double b = grid;
            while (b > blur) {
                const double rest = std::abs(std::remainder(a, b));
                a = b;
                b = rest;
            }
            grid = a;
        }
    }
    if (grid * length < 0.9) {
        return std::nullopt;
    }
    return 1.0 / grid;
}

}  // namespace

MultitoneSource described(const Stimulus& stimulus, Seconds repeat) {
    MultitoneSource source;
    source.repeat = repeat;
    for (const std::vector<Partial>& partials : stimulus.channels) {
        std::vector<SourceTone>& tones = source.channels.emplace_back();
        for (const Partial& partial : partials) {
            tones.push_back({partial.frequency, partial.amplitude.in<VoltsPeak>(),
                             partial.phase.in<Radians>(), 0.0});
        }
        std::sort(tones.begin(), tones.end(), [](const SourceTone& a, const SourceTone& b) {
            return a.frequency < b.frequency;
        });
    }
    return source;
}

Expected<MultitoneSource> tones_of(const std::vector<WaveformView>& stimulus) {
    using Kind = FigureFailure::Kind;
    if (stimulus.empty() || stimulus.front().volts.empty()) {
        return refused(Kind::record_too_short, "it holds no samples");
    }
    for (const WaveformView& channel : stimulus) {
        if (!std::all_of(channel.volts.begin(), channel.volts.end(),
                         [](double x) { return std::isfinite(x); })) {
            return refused(Kind::no_tone, "it holds samples that are not numbers");
        }
    }
    const double rate = stimulus.front().rate.frequency().in<Hertz>();
    const Sounding part = sounding_part(stimulus);
    if (part.count == 0) {
        return refused(Kind::no_tone, "it is silent");
    }
    const double seconds = static_cast<double>(part.count) / rate;
    if (part.count < 1024 || seconds < 0.1) {
        return refused(
            Kind::record_too_short,
            fmt::format("it sounds for {:.3g} s: a tenth of a second is the least", seconds));
    }
    MultitoneSource source;
    bool any = false;
    double loudest = 0.0;
    for (const WaveformView& channel : stimulus) {
        loudest = std::max(loudest, rms(channel.volts.subspan(part.first, part.count)));
    }
    for (std::size_t c = 0; c < stimulus.size(); ++c) {
        const auto sounding = stimulus[c].volts.subspan(part.first, part.count);
        if (rms(sounding) < 1e-4 * loudest) {
            source.channels.emplace_back();  // dither and no more
            continue;
        }
        auto tones = tones_of_channel(sounding, rate, static_cast<double>(part.first));
        if (!tones) {
            return refused(tones.error().kind,
                           fmt::format("channel {}: {}", c + 1, tones.error().what));
        }
        any = any || !tones->empty();
        source.channels.push_back(*std::move(tones));
    }
    if (!any) {
        return refused(Kind::no_tone, "no steady tone stands out of it");
    }
    source.repeat = Seconds{std::min(
        longest_repeat, grid_period(source, seconds)
                            .value_or(static_cast<double>(stimulus.front().volts.size()) / rate))};
    return source;
}

}  // namespace afterload::analysis
