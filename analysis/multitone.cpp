#include "analysis/multitone.hpp"

#include "analysis/transform.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <complex>
#include <cstdint>
#include <cstdlib>
#include <numbers>
#include <utility>

namespace afterload::analysis {

namespace {

constexpr double two_pi = 2.0 * std::numbers::pi;
constexpr int highest_harmonic = 10;
constexpr std::int64_t own_spacing = 6;
constexpr std::int64_t other_spacing = 3;
// Left tones near these stand on ±2 instead of ±1. Phase is smooth about them in any amplifier.
constexpr std::array<double, 3> marks_hz{250.0, 700.0, 2000.0};

using Place = std::int64_t;
using Places = std::vector<Place>;

/// Where products of one channel fall, up to the highest place of the band.
class ProductMap {
public:
    explicit ProductMap(Place highest) : hit_(static_cast<std::size_t>(highest) + 1, false) {}

    [[nodiscard]] bool hits(Place place) const { return hit_[static_cast<std::size_t>(place)]; }
    void add(const Places& products) {
        for (const Place p : products) {
            hit_[static_cast<std::size_t>(p)] = true;
        }
    }
    [[nodiscard]] Place highest() const { return static_cast<Place>(hit_.size()) - 1; }

private:
    std::vector<bool> hit_;
};

// Every product of second and third order, and every low harmonic, that `added` makes with `tones`.
// a + b - b is a itself, compression and no product.
Places products_with(Place added, const Places& tones, Place highest) {
    Places products;
    const auto keep = [&](Place place) {
        const Place folded = std::abs(place);
        if (folded <= highest) {
            products.push_back(folded);
        }
    };
    for (int k = 2; k <= highest_harmonic; ++k) {
        keep(k * added);
    }
    for (std::size_t i = 0; i < tones.size(); ++i) {
        const Place a = tones[i];
        keep(added + a);
        keep(added - a);
        keep(2 * added + a);
        keep(2 * added - a);
        keep(2 * a + added);
        keep(2 * a - added);
        for (std::size_t j = 0; j < i; ++j) {
            const Place b = tones[j];
            keep(added + a + b);
            keep(added + a - b);
            keep(added - a + b);
            keep(added - a - b);
        }
    }
    return products;
}

struct Channel {
    Places tones;
    ProductMap products;
};

class Arrangement {
public:
    Arrangement(Place lowest, Place highest, double mains_places)
        : lowest_{lowest},
          highest_{highest},
          mains_{mains_places},
          channels_{Channel{{}, ProductMap{highest}}, Channel{{}, ProductMap{highest}}},
          taken_(static_cast<std::size_t>(highest) + 1, false) {}

    /// Puts a tone on the free place nearest to `wanted`, on one of `residues` modulo 8 and at most
    /// `reach` away. Returns whether there was one.
    bool put(std::size_t channel, double wanted, double reach, const Places& residues) {
        const auto middle = static_cast<Place>(std::llround(wanted));
        for (Place distance = 0; static_cast<double>(distance) <= reach; ++distance) {
            for (const Place place : {middle - distance, middle + distance}) {
                if (place < lowest_ || place > highest_ ||
                    std::find(residues.begin(), residues.end(), place % 8) == residues.end()) {
                    continue;
                }
                if (fits(channel, place)) {
                    return true;
                }
            }
        }
        return false;
    }

    [[nodiscard]] Places sorted(std::size_t channel) const {
        Places tones = channels_.at(channel).tones;
        std::sort(tones.begin(), tones.end());
        return tones;
    }

private:
    bool fits(std::size_t channel, Place place) {
        Channel& own = channels_.at(channel);
        Channel& other = channels_.at(1 - channel);
        const double from_mains = std::abs(std::remainder(static_cast<double>(place), mains_));
        if (from_mains < 1.5 || own.products.hits(place) || other.products.hits(place)) {
            return false;
        }
        const auto near = [place](const Places& tones, Place spacing) {
            return std::any_of(tones.begin(), tones.end(), [place, spacing](Place tone) {
                return std::abs(tone - place) < spacing;
            });
        };
        if (near(own.tones, own_spacing) || near(other.tones, other_spacing)) {
            return false;
        }
        const Places products = products_with(place, own.tones, highest_);
        const bool on_a_tone = std::any_of(
            products.begin(), products.end(),
            [this, place](Place p) { return p == place || taken_[static_cast<std::size_t>(p)]; });
        if (on_a_tone) {
            return false;
        }
        own.products.add(products);
        own.tones.push_back(place);
        taken_[static_cast<std::size_t>(place)] = true;
        return true;
    }

    Place lowest_;
    Place highest_;
    double mains_;
    std::array<Channel, 2> channels_;
    std::vector<bool> taken_;
};

// A small mixing function of whole numbers: the same phases on every machine.
// Source: Steele, Lea, Flood, "Fast splittable pseudorandom number generators", OOPSLA 2014.
double phase_of(std::uint64_t draw, std::uint64_t tone) {
    std::uint64_t z = (draw * 1024 + tone + 1) * 0x9e3779b97f4a7c15ULL;
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9ULL;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebULL;
    z ^= z >> 31;
    return two_pi * std::ldexp(static_cast<double>(z >> 11), -53);
}

using Phases = std::vector<double>;

/// One period of equal tones, sampled so densely that peaks between two samples do not matter.
class Period {
public:
    Period(const Places& tones, double samples_a_cycle)
        : tones_{tones},
          transform_{good_length_at_most(
              static_cast<std::size_t>(samples_a_cycle * static_cast<double>(tones.back())) + 64)},
          samples_(transform_.length()) {}

    void fill(const Phases& phases) {
        std::vector<std::complex<double>> spectrum(transform_.bins());
        for (std::size_t i = 0; i < tones_.size(); ++i) {
            spectrum[place_of(i)] =
                std::polar(0.5 * static_cast<double>(samples_.size()), phases[i]);
        }
        samples_ = transform_.inverse(std::move(spectrum));
    }
    [[nodiscard]] double peak() const {
        double largest = 0.0;
        for (const double x : samples_) {
            largest = std::max(largest, std::abs(x));
        }
        return largest;
    }
    /// Raises every sample, as a share of `peak`, to an odd power: what then stands at each tone is
    /// the slope of the sum of the next even power with its phase.
    void sharpen(double peak, int power) {
        for (double& x : samples_) {
            x = std::copysign(std::pow(std::abs(x) / peak, power), x);
        }
    }
    /// What stands at each tone, to a factor.
    [[nodiscard]] std::vector<std::complex<double>> tones() const {
        const auto spectrum = transform_.forward(samples_);
        std::vector<std::complex<double>> found;
        for (std::size_t i = 0; i < tones_.size(); ++i) {
            found.push_back(spectrum[place_of(i)]);
        }
        return found;
    }

private:
    [[nodiscard]] std::size_t place_of(std::size_t tone) const {
        return static_cast<std::size_t>(tones_[tone]);
    }

    const Places& tones_;
    RealTransform transform_;
    std::vector<double> samples_;
};

struct Crest {
    Phases phases;
    double peak = 0.0;  // of tones of unit amplitude
};

Crest low_crest(const Places& tones) {
    constexpr std::uint64_t draws = 6;
    constexpr int rounds = 80;
    constexpr double first_step = 0.5;  // radians
    constexpr double last_step = 0.01;
    Period period{tones, 4.0};
    Crest best;
    for (std::uint64_t draw = 0; draw < draws; ++draw) {
        Phases phases;
        for (std::size_t i = 0; i < tones.size(); ++i) {
            phases.push_back(phase_of(draw, i));
        }
        period.fill(phases);
        if (draw == 0 || period.peak() < best.peak) {
            best = {phases, period.peak()};
        }
    }
    // Downhill on a high norm, which comes ever nearer to the peak.
    Phases phases = best.phases;
    for (int round = 0; round < rounds; ++round) {
        period.fill(phases);
        const double peak = period.peak();
        if (peak < best.peak) {
            best = {phases, peak};
        }
        const double done = static_cast<double>(round) / rounds;
        period.sharpen(peak, 5 + 2 * static_cast<int>(8.0 * done));
        const std::vector<std::complex<double>> pull = period.tones();
        Phases slopes;
        double steepest = 0.0;
        for (std::size_t i = 0; i < phases.size(); ++i) {
            slopes.push_back(std::abs(pull[i]) * std::sin(phases[i] - std::arg(pull[i])));
            steepest = std::max(steepest, std::abs(slopes[i]));
        }
        if (!(steepest > 0.0)) {
            break;
        }
        const double step = first_step * std::pow(last_step / first_step, done);
        for (std::size_t i = 0; i < phases.size(); ++i) {
            phases[i] += step * slopes[i] / steepest;
        }
    }
    Period fine{tones, 16.0};
    fine.fill(best.phases);
    best.peak = fine.peak();
    return best;
}

tl::unexpected<FigureFailure> refused(std::string what) {
    return tl::unexpected(FigureFailure{FigureFailure::Kind::out_of_range, std::move(what)});
}

Stimulus with_amplitudes(const Multitone& multitone, VoltsPeak left, VoltsPeak right) {
    Stimulus stimulus;
    const std::array<VoltsPeak, 2> amplitudes{left, right};
    for (std::size_t c = 0; c < 2; ++c) {
        for (const MultitoneTone& tone : multitone.tones[c]) {
            stimulus.channels[c].push_back({tone.frequency, amplitudes[c], tone.phase});
        }
    }
    return stimulus;
}

}  // namespace

Expected<Multitone> design_multitone(const MultitoneSettings& settings) {
    const double rate = settings.rate.frequency().in<Hertz>();
    const double period = settings.period.in<Seconds>();
    const Band band = settings.band.value_or(Band{Hertz{10.0}, Hertz{0.45 * rate}});
    const double low = band.low.in<Hertz>();
    const double high = band.high.in<Hertz>();
    const double mains = settings.mains.in<Hertz>();
    if (!(period >= 0.05 && period <= 10.0)) {
        return refused(fmt::format("a period of {:g} s: 0.05 to 10 s are possible", period));
    }
    if (!(low > 0.0 && low < high && high <= 0.5 * rate)) {
        return refused(fmt::format(
            "a band of {:g} to {:g} Hz: it must rise and end below half the rate, {:g} Hz", low,
            high, 0.5 * rate));
    }
    if (!((high - low) * period >= 4.0 && high * period <= 4194304.0)) {
        return refused(fmt::format(
            "the band of {:g} to {:g} Hz holds {:g} places of 1/T: 4 to 4194304 are possible", low,
            high, (high - low) * period));
    }
    if (settings.tones < 2 || settings.tones > 200) {
        return refused(fmt::format("{} tones a channel: 2 to 200 are possible", settings.tones));
    }
    if (!(mains >= 40.0 && mains <= 70.0)) {
        return refused(fmt::format("{:g} Hz is no mains frequency: 50 or 60 Hz", mains));
    }

    Arrangement arrangement{static_cast<Place>(std::ceil(low * period - 1e-9)),
                            static_cast<Place>(std::floor(high * period + 1e-9)), mains * period};
    const Places left_residues{1, 7};
    const Places mark_residues{2, 6};
    const Places right_residues{4};
    // Half a semitone around a frequency that somebody named, or what the grid needs.
    std::vector<double> named;
    for (const Hertz near : settings.near) {
        if (band.contains(near)) {
            named.push_back(near.in<Hertz>());
            const double place = named.back() * period;
            const double reach = std::max(0.03 * place, 16.0);
            arrangement.put(0, place, reach, left_residues);
            arrangement.put(1, place, reach, right_residues);
        }
    }
    const double ratio = std::pow(high / low, 1.0 / settings.tones);
    for (int slot = 0; slot < settings.tones; ++slot) {
        // Left and right alternate: right stands half a slot above left.
        for (std::size_t c = 0; c < 2; ++c) {
            const double wanted = low * period * std::pow(ratio, slot + (c == 0 ? 0.25 : 0.75));
            const auto near_one = [&](const auto& hertz) {
                return std::any_of(hertz.begin(), hertz.end(), [&](double near) {
                    return std::abs(std::log(near * period / wanted)) < 0.5 * std::log(ratio);
                });
            };
            if (near_one(named)) {
                continue;
            }
            const double reach = std::max(wanted * 0.5 * (ratio - 1.0), 8.0);
            const bool mark = near_one(marks_hz);
            const Places& residues =
                c == 1 ? right_residues : (mark ? mark_residues : left_residues);
            arrangement.put(c, wanted, reach, residues);
        }
    }

    Multitone multitone;
    multitone.period = settings.period;
    for (std::size_t c = 0; c < 2; ++c) {
        const Places tones = arrangement.sorted(c);
        if (tones.empty()) {
            return refused(fmt::format(
                "no place in {:g} to {:g} Hz fits a tone: take a longer period or a wider band",
                low, high));
        }
        const Crest crest = low_crest(tones);
        const double rms = std::sqrt(0.5 * static_cast<double>(tones.size()));
        multitone.crest[c] = crest.peak / rms;
        multitone.amplitude_over_peak[c] = 1.0 / crest.peak;
        for (std::size_t i = 0; i < tones.size(); ++i) {
            multitone.tones[c].push_back(
                {Hertz{static_cast<double>(tones[i]) / period}, Radians{crest.phases[i]}});
        }
    }
    return multitone;
}

Stimulus at_peak(const Multitone& multitone, VoltsPeak left, VoltsPeak right) {
    return with_amplitudes(multitone, multitone.amplitude_over_peak[0] * left,
                           multitone.amplitude_over_peak[1] * right);
}

Stimulus at_rms(const Multitone& multitone, VoltsRms left, VoltsRms right) {
    const auto of_one = [&](std::size_t c, VoltsRms all) {
        const auto count = static_cast<double>(multitone.tones[c].size());
        return count > 0.0 ? peak_of_sine(all / std::sqrt(count)) : VoltsPeak{0.0};
    };
    return with_amplitudes(multitone, of_one(0, left), of_one(1, right));
}

}  // namespace afterload::analysis
