#include "analysis/measure.hpp"
#include "analysis/rig_part.hpp"
#include "analysis/scale.hpp"
#include "analysis/tone_figure.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>
#include <utility>

namespace afterload::analysis {

namespace {

// What has leaked stands at a known frequency, mostly under hum that is a thousand times larger. A
// Hann weight keeps hum away, and the noise that counts is the one beside the line, not the broad
// one.
class HannRecord {
public:
    explicit HannRecord(WaveformView record) : rate_{record.rate.frequency().in<Hertz>()} {
        const auto count = static_cast<double>(record.volts.size());
        weighted_.reserve(record.volts.size());
        double mean = 0.0;
        for (std::size_t n = 0; n < record.volts.size(); ++n) {
            mean += weight(n, count) * record.volts[n];
        }
        mean /= count / 2.0;
        for (std::size_t n = 0; n < record.volts.size(); ++n) {
            weighted_.push_back(weight(n, count) * (record.volts[n] - mean));
        }
    }

    /// Width of a bin.
    [[nodiscard]] double bin() const { return rate_ / static_cast<double>(weighted_.size()); }

    /// Squared peak amplitude of the line at `hertz`.
    [[nodiscard]] double power_at(double hertz) const {
        const double turn = 2.0 * std::numbers::pi * hertz / rate_;
        const std::complex<double> step{std::cos(turn), -std::sin(turn)};
        std::complex<double> sum;
        constexpr std::size_t restart = 4096;
        for (std::size_t start = 0; start < weighted_.size(); start += restart) {
            const double angle = turn * static_cast<double>(start);
            std::complex<double> at{std::cos(angle), -std::sin(angle)};
            const std::size_t end = std::min(start + restart, weighted_.size());
            for (std::size_t n = start; n < end; ++n) {
                sum += weighted_[n] * at;
                at *= step;
            }
        }
        const double scale = 2.0 / (static_cast<double>(weighted_.size()) / 2.0);
        return scale * scale * std::norm(sum);
    }

private:
    static double weight(std::size_t n, double count) {
        return 0.5 - 0.5 * std::cos(2.0 * std::numbers::pi * static_cast<double>(n) / count);
    }

    double rate_;
    std::vector<double> weighted_;
};

constexpr double main_lobe_bins = 2.0;

// Distance of `hertz` to the nearest mains line.
double from_mains(double hertz, const std::optional<Hertz>& mains) {
    if (!mains) {
        return hertz;
    }
    const double period = mains->in<Hertz>();
    const double order = std::max(1.0, std::round(hertz / period));
    return std::abs(hertz - order * period);
}

struct NearbyNoise {
    double power = 0.0;  ///< mean squared amplitude that noise alone gives a line
    int points = 0;
};

// Median of the lines beside, so that one that is no noise does not count. Bins two apart are
// nearly independent under this weight; the mean of an exponential power is its median over ln 2.
NearbyNoise noise_beside(const HannRecord& record, double hertz, double nyquist,
                         const std::optional<Hertz>& mains) {
    std::vector<double> powers;
    for (int offset = 8; offset <= 26; offset += 2) {
        for (const int side : {-1, 1}) {
            const double at = hertz + side * offset * record.bin();
            const bool usable = at > 2.0 * main_lobe_bins * record.bin() && at < 0.98 * nyquist &&
                                from_mains(at, mains) > main_lobe_bins * record.bin();
            if (usable) {
                powers.push_back(record.power_at(at));
            }
        }
    }
    if (powers.empty()) {
        return {};
    }
    const auto middle = powers.begin() + static_cast<std::ptrdiff_t>(powers.size() / 2);
    std::ranges::nth_element(powers, middle);
    return {*middle / std::numbers::ln2, static_cast<int>(powers.size())};
}

}  // namespace

Figure channel_separation(const ToneRecord& driven, WaveformView undriven, int undriven_channel,
                          const BenchShare& undriven_bench, std::optional<Hertz> mains) {
    Figure figure = begin(FigureKind::channel_separation, driven);
    figure.channel = undriven_channel;
    figure.pair = {driven.channel, undriven_channel};
    const double hertz = driven.fit.fundamental.frequency.in<Hertz>();
    const double reference = driven.fit.fundamental.amplitude;
    const double seconds =
        static_cast<double>(undriven.volts.size()) / undriven.rate.frequency().in<Hertz>();
    if (buried(driven.fit)) {
        return without_value(std::move(figure), "no tone stands out of the driven channel's noise");
    }
    // The line must stand clear of DC by more than the lobe of the weight.
    if (undriven.volts.size() < 256 || seconds * hertz < 2.0 * main_lobe_bins) {
        return without_value(std::move(figure),
                             fmt::format("the record is too short: {:.3g} s would do",
                                         std::max(256.0 / undriven.rate.frequency().in<Hertz>(),
                                                  2.0 * main_lobe_bins / hertz)));
    }
    const HannRecord record{undriven};
    const double apart = from_mains(hertz, mains);
    if (mains && apart <= main_lobe_bins * record.bin()) {
        return without_value(
            std::move(figure),
            apart > 0.0 ? fmt::format("a mains line stands {:.2g} Hz beside the tone: record "
                                      "{:.2g} s, or move the tone",
                                      apart, 2.0 * main_lobe_bins / apart)
                        : std::string{"the tone stands on a mains line: move the tone"});
    }
    const NearbyNoise noise =
        noise_beside(record, hertz, undriven.rate.nyquist().in<Hertz>(), mains);
    const double raw = record.power_at(hertz);
    if (!(raw > 0.0) || noise.points == 0) {
        return without_value(std::move(figure),
                             "nothing at all in the undriven channel, not even noise: check that "
                             "it is connected");
    }

    // As for a harmonic near the floor: noise adds 2s² to the mean, and var P = 4Ps² + 4s⁴.
    const double s_squared = noise.power / 2.0;
    const double power = raw - noise.power;
    const double power_u =
        2.0 * std::sqrt(std::max(power, 0.0) * s_squared + s_squared * s_squared);
    const double leak = std::sqrt(std::max(power, s_squared));
    const double ratio = leak / reference;
    const double ratio_u = power_u / (2.0 * leak * reference);
    figure.value = unscored(figure.kind, ratio);
    figure.budget.push_back({record_noise, BudgetLine::Kind::noise,
                             decibels_a_neper * ratio_u / ratio,
                             static_cast<double>(noise.points)});
    add_line(figure.budget, BudgetLine::Kind::noise, "record noise of the driven channel", "",
             decibels_a_neper * relative_noise(driven.fit));
    add_line(figure.budget, BudgetLine::Kind::systematic, undriven_bench.balance_source,
             "balance of the inputs", decibels_a_neper * undriven_bench.balance_u_k1);
    std::optional<Bound> fit_bound;
    if (power < 2.0 * power_u) {
        // Along the leak noise is normal, and across it only adds: the truth lies under this
        // in 97.7 %.
        const double largest = (std::sqrt(raw) + 2.0 * std::sqrt(s_squared)) / reference;
        fit_bound = Bound{unscored(figure.kind, largest), Bound::Side::at_least};
    }
    state_rig(figure, of_leak(undriven_bench), fit_bound);
    return figure;
}

}  // namespace afterload::analysis
