#include "analysis/level_ramp.hpp"

#include "analysis/debiased_power.hpp"
#include "analysis/harmonic.hpp"
#include "analysis/normal_equations.hpp"
#include "analysis/rig_part.hpp"
#include "analysis/tone_figure.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <optional>
#include <span>
#include <utility>
#include <vector>

namespace afterload::analysis {

namespace {

using Kind = BudgetLine::Kind;

constexpr double window_seconds = 5e-3;
constexpr double least_cycles = 3.0;
constexpr std::size_t least_windows = 4;
// Distortion that was not seen counts as this much of another.
constexpr double unseen = 1e-3;

struct Window {
    double seconds = 0.0;    ///< its middle
    double amplitude = 0.0;  ///< V peak of the fundamental there
    double sigma = 0.0;
    Estimate thd;
    bool tone = false;  ///< a tone all through, and nothing that breaks off
};

// Every line with its slope over the window, and a DC with one: a level that rises, and a clock
// that is a little off, turn no fundamental into harmonics.
class WindowFit {
public:
    WindowFit(std::size_t length, double omega, int orders)
        : orders_{orders}, equations_{columns_of(orders)} {
        const double middle = (static_cast<double>(length) - 1.0) / 2.0;
        basis_.assign(columns_of(orders), std::vector<double>(length));
        for (std::size_t n = 0; n < length; ++n) {
            const double t = static_cast<double>(n) - middle;
            const double slope = t / static_cast<double>(length);
            basis_[0][n] = 1.0;
            basis_[1][n] = slope;
            for (int order = 1; order <= orders; ++order) {
                const std::size_t at = first_of(order);
                basis_[at][n] = std::cos(order * omega * t);
                basis_[at + 1][n] = std::sin(order * omega * t);
                basis_[at + 2][n] = slope * basis_[at][n];
                basis_[at + 3][n] = slope * basis_[at + 1][n];
            }
        }
        for (std::size_t row = 0; row < basis_.size(); ++row) {
            for (std::size_t column = 0; column <= row; ++column) {
                equations_.at(row, column) = product(basis_[row], basis_[column]);
            }
        }
    }

    [[nodiscard]] std::size_t length() const { return basis_.front().size(); }

    // Nothing where two columns cannot be told apart.
    [[nodiscard]] std::optional<Window> fit(std::span<const double> volts) const {
        NormalEquations equations = equations_;
        for (std::size_t row = 0; row < basis_.size(); ++row) {
            equations.right(row) = product(basis_[row], volts);
        }
        const auto solution = equations.solve();
        if (!solution) {
            return std::nullopt;
        }
        std::vector<double> rest(volts.begin(), volts.end());
        for (std::size_t column = 0; column < basis_.size(); ++column) {
            for (std::size_t n = 0; n < rest.size(); ++n) {
                rest[n] -= solution->values[column] * basis_[column][n];
            }
        }
        const double squares = product(rest, rest);
        const double variance = squares / static_cast<double>(rest.size() - basis_.size());
        return window_of(*solution, variance,
                         std::sqrt(squares / static_cast<double>(rest.size())));
    }

private:
    static std::size_t columns_of(int orders) { return 2 + 4 * static_cast<std::size_t>(orders); }
    static std::size_t first_of(int order) { return 4 * static_cast<std::size_t>(order) - 2; }
    static double product(std::span<const double> a, std::span<const double> b) {
        double sum = 0.0;
        for (std::size_t n = 0; n < a.size(); ++n) {
            sum += a[n] * b[n];
        }
        return sum;
    }

    [[nodiscard]] Window window_of(const NormalEquations::Solution& solution, double variance,
                                   double rest_rms) const {
        Window window;
        DebiasedPower harmonics;
        for (int order = 1; order <= orders_; ++order) {
            const std::size_t at = first_of(order);
            const double amplitude = std::hypot(solution.values[at], solution.values[at + 1]);
            const double sigma = std::sqrt(
                variance * (solution.inverse_diagonal[at] + solution.inverse_diagonal[at + 1]) /
                2.0);
            if (order == 1) {
                window.amplitude = amplitude;
                window.sigma = sigma;
            } else {
                harmonics.add(amplitude, sigma);
            }
        }
        // A tone that begins or ends inside leaves a third of itself; harmonics above the highest
        // modelled leave a few per cent.
        window.tone = window.amplitude > 0.0 && rest_rms < 0.1 * window.amplitude;
        if (window.tone) {
            window.thd = harmonics.root(1.0 / window.amplitude);
        }
        return window;
    }

    int orders_;
    NormalEquations equations_;
    std::vector<std::vector<double>> basis_;
};

std::vector<Window> windows_of(WaveformView record, const WindowFit& fit) {
    const double rate = record.rate.frequency().in<Hertz>();
    const std::size_t hop = fit.length() / 2;
    std::vector<Window> windows;
    for (std::size_t start = 0; start + fit.length() <= record.volts.size(); start += hop) {
        const std::span<const double> volts = record.volts.subspan(start, fit.length());
        if (!std::ranges::all_of(volts, [](double x) { return std::isfinite(x); })) {
            continue;
        }
        if (auto window = fit.fit(volts)) {
            window->seconds =
                (static_cast<double>(start) + static_cast<double>(fit.length() - 1) / 2.0) / rate;
            windows.push_back(*window);
        }
    }
    return windows;
}

// The windows of the ramp alone: from its beginning to its highest level.
std::vector<Window> ramp_of(const std::vector<Window>& windows, Gain rise) {
    auto top = windows.end();
    for (auto window = windows.begin(); window != windows.end(); ++window) {
        if (window->tone && (top == windows.end() || window->amplitude > top->amplitude)) {
            top = window;
        }
    }
    if (top == windows.end()) {
        return {};
    }
    const double lowest = 0.8 * top->amplitude * amplitude_ratio(-rise).in<AmplitudeRatio>();
    auto begin = top;
    while (begin != windows.begin() && std::prev(begin)->tone &&
           std::prev(begin)->amplitude >= lowest) {
        --begin;
    }
    // What stands before is silence, and the tone's own beginning is a transient.
    if (begin != windows.begin()) {
        begin += std::min<std::ptrdiff_t>(2, top - begin);
    }
    return {begin, std::next(top)};
}

// The window with which the distortion has risen above `limit` to stay: fewest windows then lie on
// the wrong side, so that noise moves it neither down nor up. The ramp's length: it never does.
std::size_t rises_above(const std::vector<Window>& ramp, double limit) {
    std::size_t wrong = 0;
    for (const Window& window : ramp) {
        wrong += window.thd.value > limit ? 0 : 1;
    }
    std::size_t fewest = wrong;
    std::size_t best = 0;
    for (std::size_t i = 0; i < ramp.size(); ++i) {
        wrong = ramp[i].thd.value > limit ? wrong + 1 : wrong - 1;
        if (wrong < fewest) {
            fewest = wrong;
            best = i + 1;
        }
    }
    return best;
}

// The highest window that surely stays below.
std::optional<std::size_t> last_surely_below(const std::vector<Window>& ramp, double limit) {
    for (std::size_t i = ramp.size(); i-- > 0;) {
        const Estimate& thd = ramp[i].thd;
        const double most = thd.bound ? thd.bound->value : thd.value + 2.0 * thd.u_k1;
        if (most <= limit) {
            return i;
        }
    }
    return std::nullopt;
}

struct Crossing {
    double seconds = 0.0;
    double nepers = 0.0;  ///< logarithm of the fundamental, V peak
    double u_noise = 0.0;
    double u_bend = 0.0;
};

double log_level(const Window& window) {
    return std::log(window.amplitude);
}

// How much the level against the distortion bends at `middle`, per square of the distortion's
// logarithm; 0 where a neighbour does not tell.
double bend_at(const std::vector<Window>& ramp, std::size_t middle) {
    if (middle == 0 || middle + 1 >= ramp.size()) {
        return 0.0;
    }
    const Window& before = ramp[middle - 1];
    const Window& here = ramp[middle];
    const Window& after = ramp[middle + 1];
    if (!(before.thd.value > 0.0 && before.thd.value < here.thd.value &&
          here.thd.value < after.thd.value)) {
        return 0.0;
    }
    const double low = std::log(here.thd.value / before.thd.value);
    const double high = std::log(after.thd.value / here.thd.value);
    const double low_slope = (log_level(here) - log_level(before)) / low;
    const double high_slope = (log_level(after) - log_level(here)) / high;
    return 2.0 * std::abs(high_slope - low_slope) / (low + high);
}

// Between the two windows beside it: where the record's noise is nothing.
Crossing chord(const std::vector<Window>& ramp, std::size_t above, double limit) {
    const Window& low = ramp[above - 1];
    const Window& high = ramp[above];
    // Distortion that rises out of nothing has no logarithm to begin with.
    const bool logarithmic = low.thd.value > unseen * high.thd.value;
    const auto on_axis = [logarithmic](double thd) { return logarithmic ? std::log(thd) : thd; };
    const double run = on_axis(high.thd.value) - on_axis(low.thd.value);
    const double part = (on_axis(limit) - on_axis(low.thd.value)) / run;
    const double rise = log_level(high) - log_level(low);
    Crossing crossing;
    crossing.seconds = low.seconds + part * (high.seconds - low.seconds);
    crossing.nepers = log_level(low) + part * rise;
    const double u_thd = std::max(low.thd.u_k1, high.thd.u_k1) / (logarithmic ? limit : 1.0);
    crossing.u_noise = std::hypot(u_thd * rise / run, high.sigma / high.amplitude);
    // A chord misses a bent line by h²/8 of its second derivative, the mean over a window, twice as
    // long, by (2h)²/24.
    const double bend = std::max(bend_at(ramp, above - 1), bend_at(ramp, above));
    crossing.u_bend = logarithmic ? (1.0 / 8.0 + 1.0 / 6.0) * run * run * bend / std::numbers::sqrt3
                                  : std::abs(rise) / 4.0;
    return crossing;
}

// Logarithm of a window's distortion over the limit.
double over_limit(const Window& window, double limit) {
    return std::log(std::max(window.thd.value / limit, unseen));
}

// How many windows on either side of `above` lie, on the average of the outer half of them, within
// half of the limit up and down.
std::size_t reach_of_line(const std::vector<Window>& ramp, std::size_t above, double limit) {
    constexpr double most = 0.4;
    std::size_t reach = 1;
    while (reach < above && above + reach < ramp.size()) {
        const std::size_t wider = reach + 1;
        const std::size_t half = (wider + 1) / 2;
        double low = 0.0;
        double high = 0.0;
        for (std::size_t i = 0; i < half; ++i) {
            low += over_limit(ramp[above - wider + i], limit) / static_cast<double>(half);
            high += over_limit(ramp[above + wider - 1 - i], limit) / static_cast<double>(half);
        }
        if (low < -most || high > most) {
            break;
        }
        reach = wider;
    }
    return reach;
}

// y = c0 + c1 x + c2 x² through the windows from `first` to before `last`, x the logarithm of the
// level re `origin`.
std::optional<NormalEquations::Solution> line_through(const std::vector<Window>& ramp,
                                                      std::size_t first, std::size_t last,
                                                      double origin, double limit,
                                                      std::size_t terms) {
    NormalEquations equations{terms};
    for (std::size_t i = first; i < last; ++i) {
        const double x = log_level(ramp[i]) - origin;
        std::vector<double> powers{1.0, x, x * x};
        for (std::size_t row = 0; row < terms; ++row) {
            for (std::size_t column = 0; column <= row; ++column) {
                equations.at(row, column) += powers[row] * powers[column];
            }
            equations.right(row) += powers[row] * over_limit(ramp[i], limit);
        }
    }
    return equations.solve();
}

// A bent line through many windows, where noise moves each by more than they lie apart. Nothing
// where that line does not rise through the limit among them.
std::optional<Crossing> regression(const std::vector<Window>& ramp, std::size_t above,
                                   double limit) {
    const std::size_t reach = reach_of_line(ramp, above, limit);
    if (reach < 3) {
        return std::nullopt;
    }
    const std::size_t first = above - reach;
    const std::size_t last = above + reach;
    const double origin = (log_level(ramp[above - 1]) + log_level(ramp[above])) / 2.0;
    const auto straight = line_through(ramp, first, last, origin, limit, 2);
    const auto bent = line_through(ramp, first, last, origin, limit, 3);
    if (!straight || !bent || !(straight->values[1] > 0.0)) {
        return std::nullopt;
    }
    const std::vector<double>& c = bent->values;
    const double inside = c[1] * c[1] - 4.0 * c[0] * c[2];
    if (!(c[1] > 0.0 && inside > 0.0)) {
        return std::nullopt;
    }
    const double x = -2.0 * c[0] / (c[1] + std::sqrt(inside));
    const double half_width = (log_level(ramp[last - 1]) - log_level(ramp[first])) / 2.0;
    if (!(std::abs(x) <= half_width)) {
        return std::nullopt;
    }
    double squares = 0.0;
    for (std::size_t i = first; i < last; ++i) {
        const double at = log_level(ramp[i]) - origin;
        const double left = over_limit(ramp[i], limit) - (c[0] + c[1] * at + c[2] * at * at);
        squares += left * left;
    }
    const double points = static_cast<double>(last - first);
    const double own = ramp[above].thd.u_k1 / limit;
    const double scatter = std::max(own * own, squares / (points - 3.0));
    // Windows that overlap by half share half of their noise: a mean of many has twice the
    // variance.
    const double slope = std::sqrt(inside);
    Crossing crossing;
    crossing.nepers = origin + x;
    crossing.u_noise = std::sqrt(2.0 * scatter * bent->inverse_diagonal[0]) / slope;
    crossing.u_bend = std::abs(x + straight->values[0] / straight->values[1]) / std::numbers::sqrt3;
    const double run = ramp[last - 1].seconds - ramp[first].seconds;
    crossing.seconds =
        (ramp[above - 1].seconds + ramp[above].seconds) / 2.0 + x / (2.0 * half_width) * run;
    return crossing;
}

std::optional<Crossing> crossing_of(const std::vector<Window>& ramp, std::size_t above,
                                    double limit) {
    const Window& low = ramp[above - 1];
    const Window& high = ramp[above];
    const double noise = std::max(low.thd.u_k1, high.thd.u_k1);
    const bool between = low.thd.value <= limit && limit < high.thd.value;
    if (between && noise < 0.05 * (high.thd.value - low.thd.value)) {
        return chord(ramp, above, limit);
    }
    if (auto crossing = regression(ramp, above, limit)) {
        return crossing;
    }
    return between ? std::optional{chord(ramp, above, limit)} : std::nullopt;
}

double neper_a_second(const RampSettings& settings) {
    return settings.rise.decibels() / decibels_a_neper / settings.length.in<Seconds>();
}

// By how much the level has fallen behind a ramp that began as the first quarter of `ramp` did.
double compression_db(const std::vector<Window>& ramp, double seconds, double nepers,
                      double slope) {
    const std::size_t count = std::max<std::size_t>(1, ramp.size() / 4);
    double start = 0.0;
    for (std::size_t i = 0; i < count; ++i) {
        start += (log_level(ramp[i]) - slope * ramp[i].seconds) / static_cast<double>(count);
    }
    return decibels_a_neper * (start - (nepers - slope * seconds));
}

void state_power(Figure& figure, const BenchShare& bench, const Crossing& at, double thd) {
    const VoltsRms volts = rms_of_sine(VoltsPeak{std::exp(at.nepers)});
    const double watts = dissipated(volts, *bench.load).in<Watts>();
    figure.value = watts;
    add_line(figure.budget, Kind::noise, record_noise, "", 2.0 * watts * at.u_noise);
    add_line(figure.budget, Kind::systematic, bench.level_source, "level",
             2.0 * watts * bench.level_u_k1);
    add_line(figure.budget, Kind::systematic, bench.load_source, "load", watts * bench.load_u_k1);
    add_line(figure.budget, Kind::bound,
             bench.load_source.empty() ? "" : bench.load_source + ", its own heat",
             "load, its own heat", watts * bench.load_heat_u_k1);
    add_line(figure.budget, Kind::bound, "straight line between two windows", "",
             2.0 * watts * at.u_bend);
    figure.details.emplace_back("level_v", volts.in<VoltsRms>());
    figure.details.emplace_back("total", watts * (1.0 + thd * thd));
    const RigPart part = calibrated_away(bench);
    figure.rig_added = part.added;
    figure.rig_cancelled = part.cancelled;
}

int orders_counted(const RampSettings& settings, SampleRate rate) {
    const double highest = default_upper_edge(rate) / settings.frequency;
    return static_cast<int>(
        std::clamp(std::floor(highest), 0.0, std::clamp(1.0 * settings.highest_order, 0.0, 50.0)));
}

std::string why_not(WaveformView record, const BenchShare& bench, const RampSettings& settings) {
    const double rate = record.rate.frequency().in<Hertz>();
    if (!bench.load || !(*bench.load > Ohms{0.0})) {
        return "no load is known: state it in the bench file or with the capture";
    }
    if (!(settings.frequency > Hertz{0.0} && rate > 0.0 && settings.rise > Gain{0.0} &&
          settings.length > Seconds{0.0} && settings.thd > 0.0)) {
        return "a ramp needs a frequency, a rise, a length and a distortion above zero";
    }
    if (orders_counted(settings, record.rate) < 3) {
        return fmt::format(
            "the third harmonic of {:.5g} Hz must be counted and lie below 0.45 of "
            "the rate: record at {:.6g} samples a second or more",
            settings.frequency.in<Hertz>(), 3.0 * settings.frequency.in<Hertz>() / 0.45);
    }
    return "";
}

}  // namespace

Figure short_term_power(WaveformView record, int channel, const BenchShare& bench,
                        const RampSettings& settings, Conditions conditions) {
    Figure figure;
    figure.kind = FigureKind::short_term_power;
    figure.channel = channel;
    figure.conditions = std::move(conditions);
    figure.conditions.frequency = settings.frequency;
    figure.conditions.thd = settings.thd;
    if (std::string why = why_not(record, bench, settings); !why.empty()) {
        return without_value(std::move(figure), std::move(why));
    }
    figure.conditions.load = bench.load;
    const int orders = orders_counted(settings, record.rate);
    figure.conditions.highest_order = orders;

    const double frequency = settings.frequency / record.rate.frequency();
    const double cycles =
        std::max(least_cycles, std::round(window_seconds * settings.frequency.in<Hertz>()));
    const double wanted = std::round(cycles / frequency);
    const double least = wanted * static_cast<double>(least_windows + 1) / 2.0;
    const auto samples = static_cast<double>(record.volts.size());
    if (!(samples >= least)) {
        return without_value(std::move(figure),
                             fmt::format("the record is too short for a ramp: {:.3g} s are needed",
                                         least / record.rate.frequency().in<Hertz>()));
    }
    if (wanted < 2.0 * (2.0 + 4.0 * orders)) {
        return without_value(std::move(figure),
                             "too few samples in a window for its harmonics: record at a higher "
                             "rate, or count fewer");
    }
    const WindowFit fit{static_cast<std::size_t>(wanted), 2.0 * std::numbers::pi * frequency,
                        orders};
    const std::vector<Window> ramp = ramp_of(windows_of(record, fit), settings.rise);
    if (ramp.size() < least_windows) {
        return without_value(std::move(figure),
                             "no rising tone was found in the record: check the drive");
    }

    const double slope = neper_a_second(settings);
    const auto hidden = [&] {
        return without_value(std::move(figure),
                             fmt::format("noise hides where the distortion reaches {:.3g} %: use a "
                                         "longer ramp, a higher level or a lower range",
                                         100.0 * settings.thd));
    };
    const std::size_t above = rises_above(ramp, settings.thd);
    if (above == 0) {
        return without_value(
            std::move(figure),
            fmt::format("the distortion is above {:.3g} % from the beginning of the ramp: begin it "
                        "at a lower level",
                        100.0 * settings.thd));
    }
    if (above < ramp.size()) {
        const std::optional<Crossing> at = crossing_of(ramp, above, settings.thd);
        if (!at) {
            return hidden();
        }
        state_power(figure, bench, *at, settings.thd);
        figure.details.emplace_back("gain_compression_db",
                                    compression_db(ramp, at->seconds, at->nepers, slope));
        return figure;
    }
    const std::optional<std::size_t> below = last_surely_below(ramp, settings.thd);
    if (!below) {
        return hidden();
    }
    const Window& last = ramp[*below];
    const Crossing at{last.seconds, log_level(last), last.sigma / last.amplitude, 0.0};
    state_power(figure, bench, at, last.thd.value);
    figure.details.emplace_back("gain_compression_db",
                                compression_db(ramp, at.seconds, at.nepers, slope));
    figure.details.emplace_back("reading", *figure.value);
    figure.bound = Bound{*figure.value - expanded(figure.budget), Bound::Side::at_least};
    figure.value.reset();
    return figure;
}

}  // namespace afterload::analysis
