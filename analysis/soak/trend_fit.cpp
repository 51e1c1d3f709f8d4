// Least squares of a few models of a figure's course.
#include "analysis/normal_equations.hpp"
#include "analysis/soak/trend.hpp"

#include <algorithm>
#include <cmath>
#include <functional>
#include <vector>

namespace afterload::analysis {
namespace {

constexpr double an_hour_s = 3600.0;

FigureFailure too_few(std::size_t have, std::size_t need) {
    return {FigureFailure::Kind::record_too_short,
            std::to_string(have) + " readings, " + std::to_string(need) + " are needed"};
}

bool weighted(std::span<const DatedFigure> figures) {
    return std::all_of(figures.begin(), figures.end(),
                       [](const DatedFigure& one) { return one.u_k1 > 0.0; });
}

double time_of(const DatedFigure& figure) {
    return figure.time.in<Seconds>();
}

using Columns = std::function<std::vector<double>(double t)>;

struct Solved {
    std::vector<double> values;
    std::vector<double> variances;  // for weights that are right
    double chi_squared = 0.0;
    double squares = 0.0;  // unweighted
    double scale = 0.0;    // weighted squares of the readings themselves
};

std::optional<Solved> solve(std::span<const DatedFigure> figures, const Columns& columns) {
    const bool with_weights = weighted(figures);
    const std::size_t unknowns = columns(time_of(figures.front())).size();
    NormalEquations equations{unknowns};
    for (std::size_t r = 0; r < unknowns; ++r) {
        for (std::size_t c = 0; c <= r; ++c) {
            equations.at(r, c) = 0.0;
        }
        equations.right(r) = 0.0;
    }
    // About the first reading: what all share costs no digits.
    const double about = figures.front().value;
    const auto weight = [&](const DatedFigure& one) {
        return with_weights ? 1.0 / (one.u_k1 * one.u_k1) : 1.0;
    };
    for (const DatedFigure& one : figures) {
        const std::vector<double> row = columns(time_of(one));
        for (std::size_t r = 0; r < unknowns; ++r) {
            for (std::size_t c = 0; c <= r; ++c) {
                equations.at(r, c) += weight(one) * row[r] * row[c];
            }
            equations.right(r) += weight(one) * row[r] * (one.value - about);
        }
    }
    const auto solution = equations.solve();
    if (!solution) {
        return std::nullopt;
    }
    Solved solved;
    solved.values = solution->values;
    solved.variances = solution->inverse_diagonal;
    for (const DatedFigure& one : figures) {
        const std::vector<double> row = columns(time_of(one));
        double fitted = about;
        for (std::size_t r = 0; r < unknowns; ++r) {
            fitted += solved.values[r] * row[r];
        }
        const double left = one.value - fitted;
        solved.chi_squared += weight(one) * left * left;
        solved.squares += left * left;
        solved.scale += weight(one) * one.value * one.value;
    }
    solved.values.front() += about;  // the first column is one
    return solved;
}

// What is common to all models. `parameters`: of the mean, the scatter not counted.
double finish(TrendFit& fit, const Solved& solved, std::span<const DatedFigure> figures,
              int parameters) {
    const auto count = static_cast<int>(figures.size());
    fit.chi_squared = solved.chi_squared;
    fit.degrees_of_freedom = count - parameters;
    const double freedom = std::max(1, fit.degrees_of_freedom);
    fit.sigma = std::sqrt(solved.squares / freedom);
    const double k = parameters + 1.0;
    const double least = 1e-24 * solved.scale + 1e-300;
    fit.criterion = count * std::log(std::max(solved.chi_squared, least) / count) + 2.0 * k;
    fit.criterion += count - k - 1.0 > 0.0 ? 2.0 * k * (k + 1.0) / (count - k - 1.0) : 1e6;
    const double reduced = solved.chi_squared / freedom;
    // Weights that are known are trusted unless the scatter says that they are too hopeful.
    return weighted(figures) ? std::max(1.0, reduced) : reduced;
}

WithUncertainty at(const Solved& solved, std::size_t i, double widened, double unit = 1.0) {
    return {solved.values[i] * unit, std::sqrt(widened * solved.variances[i]) * unit};
}

}  // namespace

std::string_view name(TrendFit::Kind kind) {
    switch (kind) {
        case TrendFit::Kind::constant:
            return "constant";
        case TrendFit::Kind::line:
            return "line";
        case TrendFit::Kind::exponential:
            return "exponential";
        case TrendFit::Kind::step:
            return "step";
    }
    return "";
}

Expected<TrendFit> fit_constant(std::span<const DatedFigure> figures) {
    if (figures.size() < 2) {
        return tl::unexpected{too_few(figures.size(), 2)};
    }
    const auto solved = solve(figures, [](double) { return std::vector<double>{1.0}; });
    TrendFit fit;
    fit.kind = TrendFit::Kind::constant;
    fit.level = at(*solved, 0, finish(fit, *solved, figures, 1));
    return fit;
}

Expected<TrendFit> fit_line(std::span<const DatedFigure> figures) {
    if (figures.size() < 3) {
        return tl::unexpected{too_few(figures.size(), 3)};
    }
    double middle = 0.0;
    for (const DatedFigure& one : figures) {
        middle += time_of(one) / static_cast<double>(figures.size());
    }
    const auto solved = solve(figures, [&](double t) {
        return std::vector<double>{1.0, (t - middle) / an_hour_s};
    });
    if (!solved) {
        return tl::unexpected{
            FigureFailure{FigureFailure::Kind::ill_conditioned, "all readings are of one moment"}};
    }
    TrendFit fit;
    fit.kind = TrendFit::Kind::line;
    const double widened = finish(fit, *solved, figures, 2);
    fit.level = at(*solved, 0, widened);
    fit.drift = at(*solved, 1, widened);
    return fit;
}

Expected<TrendFit> fit_exponential(std::span<const DatedFigure> figures) {
    if (figures.size() < 5) {
        return tl::unexpected{too_few(figures.size(), 5)};
    }
    const double first = time_of(figures.front());
    const double span = time_of(figures.back()) - first;
    double gap = span;
    for (std::size_t i = 1; i < figures.size(); ++i) {
        gap = std::min(gap, time_of(figures[i]) - time_of(figures[i - 1]));
    }
    if (!(gap > 0.0)) {
        return tl::unexpected{
            FigureFailure{FigureFailure::Kind::ill_conditioned, "two readings are of one moment"}};
    }
    // All but tau are linear: one search over tau is left.
    const auto solved_at = [&](double log_tau) {
        const double tau = std::exp(log_tau);
        return solve(figures, [&](double t) {
            return std::vector<double>{1.0, std::exp(-(t - first) / tau)};
        });
    };
    const auto misfit = [&](double log_tau) {
        const auto solved = solved_at(log_tau);
        return solved ? solved->chi_squared : 1e300;
    };
    const double low = std::log(0.5 * gap);
    const double high = std::log(2.0 * span);
    constexpr int steps = 60;
    int best = 0;
    double least = 1e300;
    for (int i = 0; i <= steps; ++i) {
        const double now = misfit(low + (high - low) * i / steps);
        if (now < least) {
            least = now;
            best = i;
        }
    }
    if (best == 0 || best == steps) {
        return tl::unexpected{
            FigureFailure{FigureFailure::Kind::ill_conditioned,
                          "no time constant between the readings' distance and twice their span"}};
    }
    double a = low + (high - low) * (best - 1) / steps;
    double b = low + (high - low) * (best + 1) / steps;
    const double golden = 0.5 * (std::sqrt(5.0) - 1.0);
    for (int i = 0; i < 80; ++i) {
        const double c = b - golden * (b - a);
        const double d = a + golden * (b - a);
        if (misfit(c) < misfit(d)) {
            b = d;
        } else {
            a = c;
        }
    }
    const double log_tau = 0.5 * (a + b);
    const double tau = std::exp(log_tau);
    const auto linear = solved_at(log_tau);
    if (!linear) {
        return tl::unexpected{
            FigureFailure{FigureFailure::Kind::ill_conditioned, "no warm-up curve fits"}};
    }
    // The covariance of all three, from the derivatives at the solution.
    const double height = linear->values[1];
    auto full = solve(figures, [&](double t) {
        const double fall = std::exp(-(t - first) / tau);
        return std::vector<double>{1.0, fall, height * fall * (t - first) / (tau * tau)};
    });
    if (!full) {
        return tl::unexpected{FigureFailure{FigureFailure::Kind::ill_conditioned,
                                            "the time constant cannot be told from the rest"}};
    }
    TrendFit fit;
    fit.kind = TrendFit::Kind::exponential;
    const double widened = finish(fit, *linear, figures, 3);
    full->values = {linear->values[0], height, tau};
    fit.level = at(*full, 0, widened);
    fit.height = at(*full, 1, widened);
    fit.tau = at(*full, 2, widened);
    return fit;
}

Expected<TrendFit> fit_step(std::span<const DatedFigure> figures) {
    if (figures.size() < 5) {
        return tl::unexpected{too_few(figures.size(), 5)};
    }
    std::optional<Solved> best;
    std::size_t split = 0;
    for (std::size_t i = 2; i + 2 <= figures.size(); ++i) {
        const double moment = time_of(figures[i]);
        auto solved = solve(figures, [&](double t) {
            return std::vector<double>{1.0, t >= moment ? 1.0 : 0.0};
        });
        if (solved && (!best || solved->chi_squared < best->chi_squared)) {
            best = std::move(solved);
            split = i;
        }
    }
    if (!best) {
        return tl::unexpected{
            FigureFailure{FigureFailure::Kind::ill_conditioned, "all readings are of one moment"}};
    }
    TrendFit fit;
    fit.kind = TrendFit::Kind::step;
    // The moment is a parameter too.
    const double widened = finish(fit, *best, figures, 3);
    fit.level = at(*best, 0, widened);
    fit.height = at(*best, 1, widened);
    const double before = time_of(figures[split - 1]);
    const double after = time_of(figures[split]);
    fit.at = {0.5 * (before + after), (after - before) / std::sqrt(12.0)};
    return fit;
}

}  // namespace afterload::analysis
