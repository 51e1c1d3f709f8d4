#include "analysis/timeline.hpp"

#include "analysis/median.hpp"
#include "analysis/phasors.hpp"
#include "analysis/window.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace afterload::analysis {

namespace {

constexpr double two_pi = 2.0 * std::numbers::pi;
constexpr std::size_t hops_a_piece = 4;
constexpr std::size_t lag = 2 * hops_a_piece;  // pieces a whole piece apart: a slip falls between

// Deviation as if the values were normal, whatever a few of them do.
double robust_deviation(const std::vector<double>& values, double median) {
    std::vector<double> distances;
    distances.reserve(values.size());
    for (const double v : values) {
        distances.push_back(std::abs(v - median));
    }
    return 1.4826 * median_of(std::move(distances));
}

double wrapped(double angle) {
    return std::remainder(angle, two_pi);
}

// The turn between piece `from` and the first sound piece at least `lag` later.
struct Turn {
    std::size_t from = 0;
    std::size_t to = 0;
    double angle = 0.0;
};

// Where between two pieces the tone of the first gives way to the tone of the second.
std::size_t border_between(std::span<const double> x, double omega, const ToneHistory& history,
                           const Turn& turn) {
    const std::size_t first = turn.from * history.hop;
    const std::size_t last = std::min(turn.to * history.hop + history.piece, x.size());
    const std::complex<double> start = std::polar(1.0, omega * static_cast<double>(first));
    return first + border(x.subspan(first, last - first), omega, history.phasors[turn.from] * start,
                          history.phasors[turn.to] * start);
}

// Do `count` samples at about `at` stand a second time right behind themselves?
std::optional<std::size_t> stands_twice(std::span<const double> x, std::size_t at,
                                        std::size_t count) {
    const std::size_t from = std::max(count, at > 2 * count + 64 ? at - 2 * count - 64 : 0);
    const std::size_t to = std::min(x.size(), at + 2 * count + 64);
    std::size_t run = 0;
    std::size_t longest = 0;
    std::size_t end = 0;
    for (std::size_t n = from; n < to; ++n) {
        run = x[n] == x[n - count] ? run + 1 : 0;
        if (run > longest) {
            longest = run;
            end = n + 1;
        }
    }
    // Longer than itself: the record is periodic to the last digit and tells nothing.
    return longest >= count && longest < 2 * count ? std::optional{end - count} : std::nullopt;
}

}  // namespace

std::size_t border(std::span<const double> record, double omega, std::complex<double> before,
                   std::complex<double> after) {
    double gained = 0.0;
    double best = 0.0;
    std::size_t at = 0;
    for (std::size_t n = 0; n < record.size(); ++n) {
        const std::complex<double> rotation = std::polar(1.0, omega * static_cast<double>(n));
        const double left = record[n] - (before * rotation).real();
        const double right = record[n] - (after * rotation).real();
        gained += left * left - right * right;
        if (gained < best) {
            best = gained;
            at = n + 1;
        }
    }
    return at;
}

std::optional<Slip> whole_slip(std::span<const double> record, std::size_t at, double angle,
                               double omega, double tolerance, double most) {
    const double period = two_pi / omega;
    const double nearest = angle / omega;
    std::optional<Slip> smallest;
    const auto periods = static_cast<int>((most + period) / period);
    for (int k = 0; k <= periods; ++k) {
        for (const double sign : {1.0, -1.0}) {
            const double frames = nearest + sign * k * period;
            const double whole = std::round(frames);
            if ((k == 0 && sign < 0.0) || whole == 0.0 || std::abs(whole) > most ||
                std::abs(frames - whole) > tolerance) {
                continue;
            }
            const Slip slip{at, static_cast<std::int64_t>(whole)};
            if (whole <= -2.0) {
                const auto place = stands_twice(record, at, static_cast<std::size_t>(-whole));
                if (place) {
                    return Slip{*place, slip.frames};
                }
            }
            if (!smallest || std::abs(slip.frames) < std::abs(smallest->frames)) {
                smallest = slip;
            }
        }
    }
    return smallest;
}

std::optional<ToneHistory> tone_history(std::span<const double> record, double omega,
                                        double rate_hz) {
    ToneHistory history;
    const double five_ms = std::ceil(0.005 * rate_hz * omega / two_pi);
    for (const double cycles : {std::max(4.0, five_ms), 2.0}) {
        const auto piece = static_cast<std::size_t>(std::lround(cycles * two_pi / omega));
        if (piece < 4 * hops_a_piece || record.size() < 6 * piece) {
            continue;
        }
        history.piece = piece;
        history.hop = piece / hops_a_piece;
        history.phasors = phasors(record, omega, window(WindowKind::hann, piece), history.hop);
        std::vector<double> magnitudes;
        for (const std::complex<double>& z : history.phasors) {
            magnitudes.push_back(std::abs(z));
        }
        history.median = median_of(magnitudes);
        if (history.median > 0.0) {
            history.scatter = robust_deviation(magnitudes, history.median) / history.median;
        }
        return history;
    }
    return std::nullopt;
}

std::vector<Slip> slips(std::span<const double> record, double omega, const ToneHistory& history) {
    std::vector<Slip> found;
    const auto& z = history.phasors;
    if (history.scatter > 0.2 || !(history.median > 0.0) || z.size() < 2 * lag) {
        return found;
    }
    const auto sound = [&](std::size_t b) { return std::abs(z[b]) > 0.5 * history.median; };

    // The tone's own turn over a lag, whatever a few slips add to it.
    std::vector<double> plain;
    for (std::size_t b = 0; b + lag < z.size(); ++b) {
        if (sound(b) && sound(b + lag)) {
            plain.push_back(std::arg(z[b + lag] * std::conj(z[b])));
        }
    }
    if (plain.size() < lag) {
        return found;
    }
    const double centre = plain.front();
    for (double& angle : plain) {
        angle = wrapped(angle - centre);
    }
    const double median = median_of(plain);
    const double drift = wrapped(centre + median);
    const double deviation = robust_deviation(plain, median) + 1e-9;
    const double true_omega = omega + drift / static_cast<double>(lag * history.hop);

    std::vector<Turn> jumps;
    const double least = std::max(8.0 * deviation, std::min(0.4 * true_omega, least_jump));
    const auto settle_jumps = [&] {
        if (jumps.empty()) {
            return;
        }
        // Pieces that straddle the slip show it in part; those in the middle of the run in whole.
        const Turn middle = jumps[jumps.size() / 2];
        jumps.clear();
        const double change = std::abs(z[middle.to]) / std::abs(z[middle.from]);
        if (std::abs(std::log(change)) > 0.02) {
            return;
        }
        const double tolerance = std::clamp(5.0 * deviation / true_omega, 0.004, 0.3);
        const std::size_t at = border_between(record, omega, history, middle);
        const double most = std::min(20000.0, 0.5 * static_cast<double>(record.size()));
        if (const auto slip = whole_slip(record, at, middle.angle, true_omega, tolerance, most)) {
            found.push_back(*slip);
        }
    };
    for (std::size_t b = 0; b + lag < z.size(); ++b) {
        if (!sound(b)) {
            continue;
        }
        std::size_t to = b + lag;
        while (to < z.size() && !sound(to)) {
            ++to;
        }
        if (to == z.size()) {
            break;
        }
        const double lags = static_cast<double>(to - b) / static_cast<double>(lag);
        const double angle = wrapped(std::arg(z[to] * std::conj(z[b])) - lags * drift);
        if (std::abs(angle) > least * lags) {
            if (!jumps.empty() && b > jumps.back().from + lag) {
                settle_jumps();
            }
            jumps.push_back({b, to, angle});
        }
    }
    settle_jumps();
    return found;
}

}  // namespace afterload::analysis
