#include "analysis/phono_curve.hpp"

#include "analysis/coverage_factor.hpp"
#include "analysis/tone_figure.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <optional>
#include <utility>

namespace afterload::analysis {

namespace {

constexpr double bass = 3180e-6;
constexpr double middle = 318e-6;
constexpr double treble = 75e-6;
constexpr double rumble = 7950e-6;

AmplitudeRatio magnitude(PhonoCurve curve, double hertz) {
    const double omega = 2.0 * std::numbers::pi * hertz;
    const auto corner = [omega](double seconds) { return std::hypot(1.0, omega * seconds); };
    double ratio = corner(middle) / (corner(bass) * corner(treble));
    if (curve == PhonoCurve::iec_60098_amended) {
        ratio *= omega * rumble / corner(rumble);
    }
    return AmplitudeRatio{ratio};
}

PhonoCurve other(PhonoCurve curve) {
    return curve == PhonoCurve::iec_60098 ? PhonoCurve::iec_60098_amended : PhonoCurve::iec_60098;
}

Curve error_curve(const Curve& response, Hertz reference, PhonoCurve curve) {
    Curve error = response;
    error.phase_degrees.clear();
    const Gain zero = replay_gain(curve, reference);
    for (std::size_t i = 0; i < error.value.size(); ++i) {
        const Gain wanted = replay_gain(curve, Hertz{error.frequency_hz[i]}) - zero;
        error.value[i] -= wanted.decibels();
    }
    return error;
}

// A point at an edge may be played 2 % off it.
Band with_edges(Band range) {
    return {0.98 * range.low, 1.02 * range.high};
}

std::optional<std::size_t> worst_index(const Curve& error, Band range) {
    std::optional<std::size_t> worst;
    for (std::size_t i = 0; i < error.value.size(); ++i) {
        if (with_edges(range).contains(Hertz{error.frequency_hz[i]}) &&
            (!worst || std::abs(error.value[i]) > std::abs(error.value[*worst]))) {
            worst = i;
        }
    }
    return worst;
}

// How many points inside `range` may be the true worst one, k = 2. Points nearer than a third of an
// octave share what they are off by and count once.
int may_be_worst(const Curve& error, Band range, std::size_t worst) {
    const double least_apart = std::exp2(1.0 / 3.0) / 1.02;
    int count = 0;
    double last_hertz = 0.0;
    for (std::size_t i = 0; i < error.value.size(); ++i) {
        const double both = std::hypot(error.u_k1[i], error.u_k1[worst]);
        const bool near = std::abs(error.value[i]) + 2.0 * both >= std::abs(error.value[worst]);
        const double hertz = error.frequency_hz[i];
        if (with_edges(range).contains(Hertz{hertz}) && error.u_k1[i] > 0.0 && near &&
            hertz >= least_apart * last_hertz) {
            ++count;
            last_hertz = hertz;
        }
    }
    return std::max(count, 1);
}

// At one point: the systematic lines of the response as they are, its noise as the curve tells.
Budget budget_at(const Figure& response, double u_k1) {
    Budget budget;
    double systematic = 0.0;
    for (const BudgetLine& line : response.budget) {
        if (line.kind != BudgetLine::Kind::noise && line.u_k1 <= u_k1) {
            budget.push_back(line);
            systematic = std::hypot(systematic, line.u_k1);
        }
    }
    const double noise = std::sqrt(std::max(0.0, u_k1 * u_k1 - systematic * systematic));
    add_line(budget, BudgetLine::Kind::noise, record_noise, "", noise);
    return budget;
}

}  // namespace

std::string_view name(PhonoCurve curve) {
    switch (curve) {
        case PhonoCurve::iec_60098:
            return "3180/318/75 us";
        case PhonoCurve::iec_60098_amended:
            return "3180/318/75/7950 us";
    }
    return "";
}

Gain replay_gain(PhonoCurve curve, Hertz frequency) {
    return gain_of(magnitude(curve, frequency.in<Hertz>())) - gain_of(magnitude(curve, 1000.0));
}

Figure equalisation_error(const Figure& response, PhonoCurve curve, Band range) {
    Figure figure;
    figure.kind = FigureKind::equalisation_error;
    figure.channel = response.channel;
    figure.conditions = response.conditions;
    figure.conditions.curve = std::string{name(curve)};
    figure.rig_added = response.rig_added;
    figure.rig_cancelled = response.rig_cancelled;
    if (!response.curve || !response.conditions.reference_frequency) {
        return without_value(std::move(figure), response.unresolved.empty()
                                                    ? "there is no response to read it from"
                                                    : response.unresolved);
    }
    const Hertz reference = *response.conditions.reference_frequency;
    Curve error = error_curve(*response.curve, reference, curve);
    const std::optional<std::size_t> worst = worst_index(error, range);
    if (!worst) {
        return without_value(
            std::move(figure),
            fmt::format("the response has no point between {:.5g} and {:.5g} Hz: record some there",
                        range.low.in<Hertz>(), range.high.in<Hertz>()));
    }
    figure.value = error.value[*worst];
    if (error.u_k1.size() == error.value.size()) {
        const double u = error.u_k1[*worst];
        figure.budget = budget_at(response, u);
        // The largest of several points has picked the largest error as well.
        const double k = coverage_factor(std::numeric_limits<double>::infinity(),
                                         may_be_worst(error, range, *worst));
        add_line(figure.budget, BudgetLine::Kind::bound, "choice of the worst point", "",
                 u * std::sqrt(std::max(0.0, 0.25 * k * k - 1.0)));
    }
    figure.conditions.tone_range = range;
    figure.details.emplace_back("worst_at_hz", error.frequency_hz[*worst]);
    const Curve beside = error_curve(*response.curve, reference, other(curve));
    const std::size_t other_worst = *worst_index(beside, range);
    figure.details.emplace_back("worst_re_other_curve", beside.value[other_worst]);
    figure.details.emplace_back("other_worst_at_hz", beside.frequency_hz[other_worst]);
    figure.curve = std::move(error);
    return figure;
}

}  // namespace afterload::analysis
