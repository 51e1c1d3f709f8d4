#include "analysis/sweep_recognition.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <numbers>
#include <optional>
#include <string>
#include <utility>
#include <vector>

namespace afterload::analysis {

namespace {

constexpr double two_pi = 2.0 * std::numbers::pi;
constexpr double loud = 0.1;                 // of the largest sample: what sounds, fades left out
constexpr double merge_seconds = 0.005;      // a shorter pause is none
constexpr double least_seconds = 0.02;       // of a pilot
constexpr std::size_t least_crossings = 21;  // ten cycles
constexpr double silence_seconds = 0.05;     // kept around a sweep that stands alone

tl::unexpected<FigureFailure> none(std::string what) {
    return tl::unexpected(FigureFailure{FigureFailure::Kind::no_tone, std::move(what)});
}

/// Zero crossings, in samples, of one stretch that sounds without a pause.
using Crossings = std::vector<double>;

double largest(std::span<const double> x) {
    double peak = 0.0;
    for (const double v : x) {
        peak = std::max(peak, std::abs(v));
    }
    return peak;
}

std::vector<Crossings> stretches(std::span<const double> x, double peak, double rate) {
    std::vector<Crossings> found;
    std::vector<double> ends;   // of the last loud half wave of each
    double last_loud = -1e300;  // end of the last loud half wave
    double opened = 0.0;        // where the present half wave began
    double highest = 0.0;       // its largest magnitude
    std::size_t before = 0;
    bool any = false;
    for (std::size_t n = 0; n < x.size(); ++n) {
        if (x[n] == 0.0) {
            continue;
        }
        if (any && std::signbit(x[n]) != std::signbit(x[before])) {
            const double run = static_cast<double>(n - before);
            const double crossing =
                static_cast<double>(before) + run * x[before] / (x[before] - x[n]);
            if (highest >= loud * peak) {
                if (found.empty() || opened - last_loud > merge_seconds * rate) {
                    found.emplace_back();
                    ends.push_back(0.0);
                }
                Crossings& stretch = found.back();
                // Quieter half waves within a stretch were counted as well.
                if (stretch.empty() || stretch.back() < opened) {
                    stretch.push_back(opened);
                }
                stretch.push_back(crossing);
                last_loud = crossing;
                ends.back() = crossing;
            } else if (!found.empty() && opened - last_loud <= merge_seconds * rate) {
                found.back().push_back(crossing);
            }
            opened = crossing;
            highest = 0.0;
        }
        highest = std::max(highest, std::abs(x[n]));
        before = n;
        any = true;
    }
    for (std::size_t i = 0; i < found.size(); ++i) {
        // The first half wave may reach back into a silence that is dithered.
        found[i].erase(found[i].begin());
        while (!found[i].empty() && found[i].back() > ends[i]) {
            found[i].pop_back();
        }
    }
    return found;
}

/// How many crossings from `from` on, in steps of `way`, are those of a steady tone.
std::size_t steady_run(const Crossings& crossings, std::size_t from, std::size_t count, int way) {
    const auto at = [&](std::size_t k) {
        return way > 0 ? crossings[from + k] : crossings[from - k];
    };
    std::size_t run = 0;
    for (std::size_t k = 2; k < count; ++k) {
        const std::size_t middle = k / 2;
        const double chord =
            at(0) + (at(k) - at(0)) * static_cast<double>(middle) / static_cast<double>(k);
        const double half_wave = std::abs(at(k) - at(0)) / static_cast<double>(k);
        const double newest = std::abs(at(k) - at(k - 1));
        const bool steady = std::abs(at(middle) - chord) <= 0.05 * half_wave + 0.1 &&
                            std::abs(newest - half_wave) <= 0.2 * half_wave + 1.0;
        if (!steady) {
            break;
        }
        run = k + 1;
    }
    return run;
}

SweepPilot pilot_of(double first, double last, std::size_t crossings, double rate) {
    const double seconds = (last - first) / rate;
    return {Hertz{0.5 * static_cast<double>(crossings - 1) / seconds}, Seconds{first / rate},
            Seconds{seconds}};
}

bool is_pilot(double samples, std::size_t crossings, double rate) {
    return crossings >= least_crossings && samples >= least_seconds * rate;
}

/// Takes the steady tones off both ends of `stretch`.
void take_pilots(Crossings& stretch, double rate, std::vector<SweepPilot>& pilots) {
    constexpr std::size_t edge = 2;  // crossings where tone and sweep meet belong to neither
    std::size_t run = steady_run(stretch, 0, stretch.size(), 1);
    if (run > 0 && is_pilot(stretch[run - 1] - stretch[0], run, rate)) {
        const std::size_t last = run == stretch.size() ? run - 1 : run - 1 - edge;
        pilots.push_back(pilot_of(stretch[0], stretch[last], last + 1, rate));
        stretch.erase(stretch.begin(), stretch.begin() + static_cast<std::ptrdiff_t>(run));
    }
    if (stretch.empty()) {
        return;
    }
    const std::size_t end = stretch.size() - 1;
    run = steady_run(stretch, end, stretch.size(), -1);
    if (run > 0 && is_pilot(stretch[end] - stretch[end + 1 - run], run, rate)) {
        const std::size_t first = end + 1 - run + edge;
        pilots.push_back(pilot_of(stretch[first], stretch[end], end + 1 - first, rate));
        stretch.resize(end + 1 - run);
    }
}

/// Phase a · e^{t/L} + c in radians, t in samples.
struct Spiral {
    double a = 0.0;
    double growth = 1.0;
    double c = 0.0;
    [[nodiscard]] double swing(double t) const { return a * std::exp(t / growth); }
    [[nodiscard]] double phase(double t) const { return swing(t) + c; }
    /// Cycles a sample.
    [[nodiscard]] double frequency(double t) const { return swing(t) / growth / two_pi; }
};

/// Solves the symmetric system of `size` unknowns by elimination; false where it is singular.
template <std::size_t size>
bool solve(std::array<std::array<double, size>, size> m, std::array<double, size>& v) {
    for (std::size_t i = 0; i < size; ++i) {
        if (!(m[i][i] > 0.0)) {
            return false;
        }
        for (std::size_t row = i + 1; row < size; ++row) {
            const double factor = m[row][i] / m[i][i];
            for (std::size_t column = i; column < size; ++column) {
                m[row][column] -= factor * m[i][column];
            }
            v[row] -= factor * v[i];
        }
    }
    for (std::size_t i = size; i-- > 0;) {
        for (std::size_t column = i + 1; column < size; ++column) {
            v[i] -= m[i][column] * v[column];
        }
        v[i] /= m[i][i];
    }
    return true;
}

template <std::size_t size>
struct Sums {
    std::array<std::array<double, size>, size> matrix{};
    std::array<double, size> vector{};
    void add(const std::array<double, size>& row, double value) {
        for (std::size_t i = 0; i < size; ++i) {
            vector[i] += row[i] * value;
            for (std::size_t j = 0; j < size; ++j) {
                matrix[i][j] += row[i] * row[j];
            }
        }
    }
};

double local_frequency(const Crossings& crossings, std::size_t at) {
    const std::size_t first = at < 2 ? 0 : at - 2;
    const std::size_t last = std::min(at + 2, crossings.size() - 1);
    return 0.5 * static_cast<double>(last - first) / (crossings[last] - crossings[first]);
}

std::optional<Spiral> by_crossings(const Crossings& crossings) {
    const double begin = crossings.front();
    const double length = crossings.back() - begin;
    const auto index = [&](double share) {
        const auto found =
            std::lower_bound(crossings.begin(), crossings.end(), begin + share * length);
        return static_cast<std::size_t>(found - crossings.begin());
    };
    const std::size_t early = std::max<std::size_t>(index(0.15), 2);
    const std::size_t late = std::min(index(0.85), crossings.size() - 3);
    if (late <= early) {
        return std::nullopt;
    }
    const double low = local_frequency(crossings, early);
    const double high = local_frequency(crossings, late);
    if (!(high > 1.05 * low)) {
        return std::nullopt;
    }
    Spiral fit;
    fit.growth = (crossings[late] - crossings[early]) / std::log(high / low);
    const double offset = crossings[early];
    fit.a = two_pi * low * fit.growth;
    fit.c = std::numbers::pi * static_cast<double>(early) - fit.a;
    for (int step = 0; step < 20; ++step) {
        Sums<3> sums;
        for (std::size_t k = 0; k < crossings.size(); ++k) {
            const double t = crossings[k] - offset;
            const double swing = fit.swing(t);
            sums.add({swing, -swing * t / fit.growth, 1.0},
                     std::numbers::pi * static_cast<double>(k) - fit.phase(t));
        }
        std::array<double, 3> change = sums.vector;
        if (!solve<3>(sums.matrix, change)) {
            return std::nullopt;
        }
        // Steps in the logarithms of a and L, which must stay positive.
        fit.a *= std::exp(std::clamp(change[0], -1.0, 1.0));
        fit.growth *= std::exp(std::clamp(change[1], -0.2, 0.2));
        fit.c += change[2];
    }
    fit.a *= std::exp(-offset / fit.growth);
    if (!(std::isfinite(fit.a) && fit.a > 0.0)) {
        return std::nullopt;
    }
    double worst = 0.0;  // mean square phase error where a crossing is well placed
    std::size_t counted = 0;
    for (std::size_t k = 0; k < crossings.size(); ++k) {
        if (fit.frequency(crossings[k]) < 0.125) {
            const double error =
                std::numbers::pi * static_cast<double>(k) - fit.phase(crossings[k]);
            worst += error * error;
            ++counted;
        }
    }
    constexpr double most_radians = 0.3;
    if (counted < 5 || worst > most_radians * most_radians * static_cast<double>(counted)) {
        return std::nullopt;
    }
    return fit;
}

/// The same fit on the samples: amplitude and phase of the sine and the two of the spiral. `c` then
/// is the phase of the sine.
std::optional<Spiral> by_samples(std::span<const double> x, const Crossings& crossings,
                                 Spiral fit) {
    const double begin = crossings.front();
    const double length = crossings.back() - begin;
    const auto first = static_cast<std::size_t>(begin + 0.1 * length);
    const auto last = static_cast<std::size_t>(begin + 0.9 * length);
    // Crossings count from a zero of either slope.
    const auto middle = static_cast<std::size_t>(0.5 * (crossings[0] + crossings[1]));
    fit.c += x[middle] < 0.0 ? std::numbers::pi : 0.0;
    for (int step = 0; step < 8; ++step) {
        Sums<4> sums;
        double sines = 0.0;
        double level = 0.0;
        for (std::size_t n = first; n < last; ++n) {
            const double sine = std::sin(fit.phase(static_cast<double>(n)));
            sines += sine * sine;
            level += sine * x[n];
        }
        const double amplitude = level / sines;
        if (!(std::abs(amplitude) > 0.0)) {
            return std::nullopt;
        }
        const double reference = static_cast<double>(last);
        for (std::size_t n = first; n < last; ++n) {
            const double t = static_cast<double>(n);
            const double phase = fit.phase(t);
            const double sine = std::sin(phase);
            const double cosine = amplitude * std::cos(phase);
            const double swing = fit.swing(t);
            sums.add({sine, cosine * swing, -cosine * swing * (t - reference) / fit.growth, cosine},
                     x[n] - amplitude * sine);
        }
        std::array<double, 4> change = sums.vector;
        if (!solve<4>(sums.matrix, change)) {
            return std::nullopt;
        }
        const double at_reference = fit.swing(reference) * std::exp(change[1]);
        fit.growth *= std::exp(change[2]);
        fit.a = at_reference * std::exp(-reference / fit.growth);
        fit.c += change[3];
        if (!(std::isfinite(fit.a) && fit.a > 0.0 && std::isfinite(fit.growth))) {
            return std::nullopt;
        }
        // Far less than a sample's rounding moves them: nothing more to be had.
        constexpr double settled = 1e-11;
        if (std::abs(change[1]) < settled && std::abs(change[2]) < settled &&
            std::abs(change[3]) < settled) {
            break;
        }
    }
    return fit;
}

/// From `from` on outwards, the first sample after which 2 ms are quiet.
std::ptrdiff_t quiet_from(std::span<const double> x, std::ptrdiff_t from, int way, double level,
                          double rate) {
    const auto needed = static_cast<std::ptrdiff_t>(0.002 * rate);
    std::ptrdiff_t quiet = 0;
    std::ptrdiff_t n = from;
    while (n >= 0 && n < static_cast<std::ptrdiff_t>(x.size()) && quiet < needed) {
        quiet = std::abs(x[static_cast<std::size_t>(n)]) < level ? quiet + 1 : 0;
        n += way;
    }
    return n - way * quiet;
}

}  // namespace

Expected<SweepPlan> recognised_sweep(WaveformView stimulus) {
    const std::span<const double> x = stimulus.volts;
    const double rate = stimulus.rate.frequency().in<Hertz>();
    if (!std::all_of(x.begin(), x.end(), [](double v) { return std::isfinite(v); })) {
        return none("the stimulus holds samples that are not finite");
    }
    const double peak = largest(x);
    if (x.size() < 64 || !(peak > 0.0)) {
        return none("the stimulus is silent");
    }
    SweepPlan plan;
    Crossings sweep;
    for (Crossings& stretch : stretches(x, peak, rate)) {
        if (stretch.size() < 3) {
            continue;
        }
        take_pilots(stretch, rate, plan.pilots);
        if (stretch.size() > sweep.size()) {
            sweep = std::move(stretch);
        }
    }
    const char* const not_exponential =
        "the stimulus is no exponential sweep: its phase does not grow by e in equal times";
    if (sweep.size() < least_crossings) {
        return none(not_exponential);
    }
    const auto rough = by_crossings(sweep);
    const auto fit = rough ? by_samples(x, sweep, *rough) : std::nullopt;
    if (!fit) {
        return none(not_exponential);
    }
    plan.growth = Seconds{fit->growth / rate};
    plan.phase = Radians{std::remainder(fit->c, two_pi)};
    plan.length = duration(Frames{static_cast<std::int64_t>(x.size())}, stimulus.rate);

    // Between a pilot and the sweep the middle of the silence parts them.
    const double hush = 1e-3 * peak;
    const auto front = static_cast<std::ptrdiff_t>(sweep.front());
    const auto back = static_cast<std::ptrdiff_t>(sweep.back());
    const auto margin = static_cast<std::ptrdiff_t>(silence_seconds * rate);
    const auto size = static_cast<std::ptrdiff_t>(x.size());
    std::ptrdiff_t opens = quiet_from(x, front, -1, hush, rate);
    std::ptrdiff_t closes = quiet_from(x, back, 1, hush, rate);
    std::ptrdiff_t earliest = std::max<std::ptrdiff_t>(0, opens - margin);
    std::ptrdiff_t latest = std::min(size, closes + margin);
    std::ptrdiff_t next = size;
    for (const SweepPilot& pilot : plan.pilots) {
        const double first = pilot.start.in<Seconds>() * rate;
        const double last = first + pilot.length.in<Seconds>() * rate;
        if (last <= sweep.front()) {
            const std::ptrdiff_t ended =
                quiet_from(x, static_cast<std::ptrdiff_t>(last), 1, hush, rate);
            earliest = ended < opens ? std::max(earliest, (ended + opens) / 2)
                                     : static_cast<std::ptrdiff_t>(last) + 1;
        } else {
            const std::ptrdiff_t begun =
                quiet_from(x, static_cast<std::ptrdiff_t>(first), -1, hush, rate);
            latest = begun > closes ? std::min(latest, (begun + closes) / 2)
                                    : static_cast<std::ptrdiff_t>(first);
            next = std::max(begun, latest);
        }
    }
    opens = std::max(opens, earliest);
    closes = std::min(closes, latest);
    plan.start = Seconds{static_cast<double>(opens) / rate};
    plan.low = Hertz{fit->frequency(static_cast<double>(opens)) * rate};
    plan.high = Hertz{std::min(0.5, fit->frequency(static_cast<double>(closes))) * rate};
    plan.band = {plan.low, plan.high};
    plan.begin = Seconds{static_cast<double>(earliest) / rate};
    plan.end = Seconds{static_cast<double>(latest) / rate};
    plan.tail = Seconds{static_cast<double>(next - latest) / rate};
    return plan;
}

SweepPlan plan_of_any_sound(WaveformView stimulus) {
    SweepPlan plan;
    plan.length = duration(Frames{static_cast<std::int64_t>(stimulus.volts.size())}, stimulus.rate);
    plan.end = plan.length;
    plan.band = {Hertz{0.0}, stimulus.rate.nyquist()};
    return plan;
}

}  // namespace afterload::analysis
