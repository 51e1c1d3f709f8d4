#include "analysis/measure.hpp"
#include "analysis/tone_figure.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <utility>

namespace afterload::analysis {

namespace {

constexpr const char* flatness_source = "flatness of the rig";

double wrapped_degrees(double radians) {
    const double degrees = radians * 180.0 / std::numbers::pi;
    const double turned = degrees - 360.0 * std::ceil((degrees - 180.0) / 360.0);
    return turned == -180.0 ? 180.0 : turned;
}

const ResponsePoint* reference_point(const std::vector<ResponsePoint>& points, Hertz reference) {
    const ResponsePoint* best = nullptr;
    double best_distance = 0.02;
    for (const ResponsePoint& point : points) {
        const double distance = std::abs(point.frequency / reference - 1.0);
        if (distance <= best_distance) {
            best = &point;
            best_distance = distance;
        }
    }
    return best;
}

}  // namespace

Figure frequency_response(const std::vector<ResponsePoint>& points, Hertz reference, int channel,
                          double flatness_u_k1_db, Conditions conditions) {
    Figure figure;
    figure.kind = FigureKind::frequency_response;
    figure.channel = channel;
    figure.conditions = std::move(conditions);
    const ResponsePoint* zero = reference_point(points, reference);
    if (zero == nullptr) {
        return without_value(
            std::move(figure),
            fmt::format("no point at the reference frequency, {:.4g} Hz", reference.in<Hertz>()));
    }
    std::vector<ResponsePoint> sorted = points;
    std::ranges::sort(sorted, {}, &ResponsePoint::frequency);
    for (const ResponsePoint& point : sorted) {
        if (!(point.amplitude > 0.0)) {
            return without_value(std::move(figure), fmt::format("no output at {:.4g} Hz",
                                                                point.frequency.in<Hertz>()));
        }
    }
    const bool with_phase =
        std::ranges::any_of(sorted, [](const ResponsePoint& point) { return point.phase != 0.0; });
    Curve curve;
    double largest_noise = 0.0;
    for (const ResponsePoint& point : sorted) {
        const bool is_reference = point.frequency == zero->frequency;
        const double noise =
            is_reference ? 0.0 : decibels_a_neper * std::hypot(point.u_relative, zero->u_relative);
        largest_noise = std::max(largest_noise, noise);
        curve.frequency_hz.push_back(point.frequency.in<Hertz>());
        curve.value.push_back(
            gain_of(AmplitudeRatio{point.amplitude / zero->amplitude}).decibels());
        if (with_phase) {
            curve.phase_degrees.push_back(wrapped_degrees(point.phase));
        }
        curve.u_k1.push_back(is_reference ? 0.0 : std::hypot(noise, flatness_u_k1_db));
    }
    figure.conditions.reference_frequency = zero->frequency;
    figure.conditions.tone_range = Band{sorted.front().frequency, sorted.back().frequency};
    add_line(figure.budget, BudgetLine::Kind::noise, record_noise, "", largest_noise);
    add_line(figure.budget, BudgetLine::Kind::systematic, flatness_source, "", flatness_u_k1_db);
    if (flatness_u_k1_db > 0.0) {
        figure.rig_added = 0.0;  // what the rig does to a response is its flatness, above
        figure.rig_cancelled = 0.0;
    }
    figure.curve = std::move(curve);
    return figure;
}

namespace {

// A curve seen from its reference towards one end.
struct Outward {
    const Curve& curve;
    bool low;
    std::size_t reference;

    [[nodiscard]] std::size_t steps() const {
        return low ? reference : curve.value.size() - 1 - reference;
    }
    [[nodiscard]] std::size_t index(std::size_t step) const {
        return low ? reference - step : reference + step;
    }
    [[nodiscard]] double level(std::size_t step) const { return curve.value[index(step)]; }
    [[nodiscard]] double u(std::size_t step) const { return curve.u_k1[index(step)]; }
    [[nodiscard]] double log_frequency(std::size_t step) const {
        return std::log(curve.frequency_hz[index(step)]);
    }
};

// The first step outward whose level lies below `level`; nothing if none does.
std::optional<std::size_t> first_below(const Outward& side, double level) {
    for (std::size_t step = 1; step <= side.steps(); ++step) {
        if (side.level(step) < level) {
            return step;
        }
    }
    return std::nullopt;
}

struct Crossing {
    double log_frequency = 0.0;
    double slope = 0.0;  ///< dB per unit of log frequency, without its sign
};

Crossing crossing_at(const Outward& side, std::size_t below, double level) {
    const double run = side.log_frequency(below) - side.log_frequency(below - 1);
    const double rise = side.level(below) - side.level(below - 1);
    const double part = (level - side.level(below - 1)) / rise;
    return {side.log_frequency(below - 1) + part * run, std::abs(rise / run)};
}

// A chord misses a bent curve by at most h²/8 of its second derivative, taken here from the
// neighbouring points.
double chord_error_db(const Outward& side, std::size_t below) {
    const double run = side.log_frequency(below) - side.log_frequency(below - 1);
    const auto slope = [&side](std::size_t step) {
        return (side.level(step) - side.level(step - 1)) /
               (side.log_frequency(step) - side.log_frequency(step - 1));
    };
    const auto bend = [&](std::size_t step) {  // between the chords `step` and `step` + 1
        const double apart = (side.log_frequency(step + 1) - side.log_frequency(step - 1)) / 2.0;
        return std::abs((slope(step + 1) - slope(step)) / apart);
    };
    double largest = 0.0;
    if (below >= 2) {
        largest = bend(below - 1);
    }
    if (below + 1 <= side.steps()) {
        largest = std::max(largest, bend(below));
    }
    return run * run / 8.0 * largest;
}

std::size_t nearest_index(const Curve& curve, double hertz) {
    std::size_t best = 0;
    for (std::size_t i = 1; i < curve.frequency_hz.size(); ++i) {
        if (std::abs(std::log(curve.frequency_hz[i] / hertz)) <
            std::abs(std::log(curve.frequency_hz[best] / hertz))) {
            best = i;
        }
    }
    return best;
}

}  // namespace

Figure bandwidth(const Figure& response, bool low, Gain fall) {
    Figure figure;
    figure.kind = low ? FigureKind::bandwidth_low : FigureKind::bandwidth_high;
    figure.channel = response.channel;
    figure.conditions = response.conditions;
    figure.conditions.fall = fall;
    figure.rig_added = response.rig_added;
    figure.rig_cancelled = response.rig_cancelled;
    if (!response.curve || !response.conditions.reference_frequency) {
        return without_value(std::move(figure), response.unresolved.empty()
                                                    ? "there is no response to read it from"
                                                    : response.unresolved);
    }
    const Curve& curve = *response.curve;
    const Outward side{curve, low,
                       nearest_index(curve, response.conditions.reference_frequency->in<Hertz>())};
    const double level = fall.decibels();
    const std::optional<std::size_t> below = first_below(side, level);
    if (!below) {
        // Surely not fallen as far only where it stays above by its uncertainty.
        std::size_t sure = side.steps();
        double log_frequency = side.log_frequency(sure);
        const double margin = 2.0 * side.u(sure);
        if (const auto doubtful = first_below(side, level + margin)) {
            log_frequency = crossing_at(side, *doubtful, level + margin).log_frequency;
        }
        figure.bound =
            Bound{std::exp(log_frequency), low ? Bound::Side::at_most : Bound::Side::at_least};
        return figure;
    }
    const Crossing crossing = crossing_at(side, *below, level);
    const double hertz = std::exp(crossing.log_frequency);
    figure.value = hertz;
    const double hertz_a_decibel = hertz / crossing.slope;
    const double u = std::max(side.u(*below), side.u(*below - 1));
    double flatness = 0.0;
    for (const BudgetLine& line : response.budget) {
        flatness = line.source == flatness_source ? line.u_k1 : flatness;
    }
    const double noise = std::sqrt(std::max(0.0, u * u - flatness * flatness));
    add_line(figure.budget, BudgetLine::Kind::noise, record_noise, "", hertz_a_decibel * noise);
    add_line(figure.budget, BudgetLine::Kind::systematic, flatness_source, "",
             hertz_a_decibel * flatness);
    add_line(figure.budget, BudgetLine::Kind::bound, "straight line between two points", "",
             hertz_a_decibel * chord_error_db(side, *below) / std::numbers::sqrt3);
    return figure;
}

namespace {

// How much of its tolerance a value uses: 1 at the limit, more outside. Where zero lies between the
// limits each side has its own tolerance, so that 0 dB is never the worst point of -1 … +0.5 dB.
double tolerance_used(double value, double low_limit, double high_limit) {
    if (low_limit < 0.0 && high_limit > 0.0) {
        return value < 0.0 ? value / low_limit : value / high_limit;
    }
    return 1.0 - std::min(value - low_limit, high_limit - value);
}

}  // namespace

namespace {

/// The curve at `at` Hz, where points stand on both sides: a straight line between them on a
/// logarithmic frequency axis. What a parabola through the next point makes of it is added to u as
/// a bound.
std::optional<WorstPoint> between_points(const Curve& curve, double at) {
    const auto& hertz = curve.frequency_hz;
    const auto above = std::upper_bound(hertz.begin(), hertz.end(), at);
    if (above == hertz.begin() || above == hertz.end()) {
        return std::nullopt;
    }
    const auto hi = static_cast<std::size_t>(above - hertz.begin());
    const std::size_t lo = hi - 1;
    constexpr double widest_gap = 1.6;  // beyond it three points say little of what lies between
    if (hertz[hi] > widest_gap * hertz[lo]) {
        return std::nullopt;
    }
    const double width = std::log(hertz[hi] / hertz[lo]);
    const double share = std::log(at / hertz[lo]) / width;
    WorstPoint point{Hertz{at}, std::lerp(curve.value[lo], curve.value[hi], share), 0.0};
    double bend = 0.0;
    for (const std::size_t third : {lo - 1, hi + 1}) {
        if (third < hertz.size()) {
            const double away = std::log(hertz[third] / hertz[lo]) / width;
            const double line = std::lerp(curve.value[lo], curve.value[hi], away);
            // A parabola that is zero at both neighbours, of this height at the third point.
            const double height = (curve.value[third] - line) / (away * (away - 1.0));
            bend = std::max(bend, std::abs(height * share * (share - 1.0)));
        }
    }
    if (curve.u_k1.size() == hertz.size()) {
        point.u_k1 = std::max(curve.u_k1[lo], curve.u_k1[hi]);
    }
    point.u_k1 = std::hypot(point.u_k1, bend / std::numbers::sqrt3);
    return point;
}

}  // namespace

std::optional<WorstPoint> worst_of(const Curve& curve, Band range, double low_limit,
                                   double high_limit) {
    // A point at a rated edge is played a little off it, off the mains grid.
    const Band with_edges{0.98 * range.low, 1.02 * range.high};
    std::optional<WorstPoint> worst;
    double most_used = 0.0;
    bool low_edge = false;
    bool high_edge = false;
    const auto consider = [&](const WorstPoint& point) {
        const double used = tolerance_used(point.value, low_limit, high_limit);
        if (!worst || used > most_used) {
            worst = point;
            most_used = used;
        }
    };
    for (std::size_t i = 0; i < curve.frequency_hz.size(); ++i) {
        const Hertz frequency{curve.frequency_hz[i]};
        if (with_edges.contains(frequency)) {
            consider({frequency, curve.value[i], i < curve.u_k1.size() ? curve.u_k1[i] : 0.0});
            low_edge = low_edge || frequency <= 1.02 * range.low;
            high_edge = high_edge || frequency >= 0.98 * range.high;
        }
    }
    for (const auto& [there, edge] :
         {std::pair{low_edge, range.low}, std::pair{high_edge, range.high}}) {
        if (!there) {
            if (const auto point = between_points(curve, edge.in<Hertz>())) {
                consider(*point);
            }
        }
    }
    return worst;
}

}  // namespace afterload::analysis
