#include "analysis/soak/trend.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace afterload::analysis {
namespace {

using Verdict = Trend::Verdict;

// A model of more parameters must earn them.
constexpr double clearly_better = 6.0;
constexpr double explained = 2.0;  // reduced chi squared that the readings' own noise accounts for
constexpr double an_hour_s = 3600.0;

std::optional<TrendFit> best_fit(std::span<const DatedFigure> figures) {
    std::optional<TrendFit> best;
    const auto consider = [&](const Expected<TrendFit>& fit) {
        if (fit && (!best || fit->criterion < best->criterion - clearly_better)) {
            best = *fit;
        }
    };
    consider(fit_constant(figures));
    consider(fit_line(figures));
    // Of two with as many parameters the better one.
    const auto step = fit_step(figures);
    const auto exponential = fit_exponential(figures);
    const bool step_first = step && (!exponential || step->criterion < exponential->criterion);
    consider(step_first ? step : exponential);
    return best;
}

bool scatter_explained(const TrendFit& fit, bool known) {
    return known && fit.chi_squared <= explained * std::max(1, fit.degrees_of_freedom);
}

void judge_constant(Trend& trend, const TrendFit& fit, std::span<const DatedFigure> figures,
                    const TrendSettings& settings) {
    double most = 0.0;
    for (const DatedFigure& one : figures) {
        most = std::max(most, std::abs(one.value - fit.level.value) - settings.coverage * one.u_k1);
    }
    trend.settled_value = fit.level;
    trend.settled_at = figures.front().time;
    if (settings.coverage * fit.level.u_k1 > settings.tolerance) {
        trend.verdict = Verdict::undecided;
        trend.what = fmt::format("its mean is known to {:.2g} only, {:.2g} is asked",
                                 settings.coverage * fit.level.u_k1, settings.tolerance);
    } else if (most > settings.tolerance) {
        trend.verdict = Verdict::unstable;
        trend.what = fmt::format("moves by {:.3g} about {:.5g}, {:.2g} is allowed", most,
                                 fit.level.value, settings.tolerance);
    } else {
        trend.verdict = Verdict::stable;
        trend.what =
            fmt::format("stands at {:.5g} within {:.2g}", fit.level.value, settings.tolerance);
    }
}

void judge_line(Trend& trend, const TrendFit& fit, std::span<const DatedFigure> figures,
                const TrendSettings& settings) {
    const double hours = (figures.back().time - figures.front().time).in<Seconds>() / an_hour_s;
    const double drift = std::abs(fit.drift.value);
    const double all = drift * hours;
    const bool sure = drift > settings.coverage * fit.drift.u_k1;
    if (sure && (drift > settings.tolerance || all > settings.tolerance)) {
        trend.verdict = Verdict::drifting;
        trend.what = fmt::format("drifts by {:+.3g} an hour, by {:+.3g} in all", fit.drift.value,
                                 std::copysign(all, fit.drift.value));
    } else if (all <= settings.tolerance) {
        trend.verdict = Verdict::stable;
        trend.settled_value = fit.level;
        trend.settled_at = figures.front().time;
        trend.what =
            fmt::format("stands at {:.5g} within {:.2g}", fit.level.value, settings.tolerance);
    } else {
        trend.verdict = Verdict::undecided;
        trend.what = fmt::format("drifts by {:+.3g} ± {:.2g} an hour: too uncertain",
                                 fit.drift.value, settings.coverage * fit.drift.u_k1);
    }
}

void judge_exponential(Trend& trend, const TrendFit& fit, std::span<const DatedFigure> figures,
                       const TrendSettings& settings) {
    const double span = (figures.back().time - figures.front().time).in<Seconds>();
    const double height = std::abs(fit.height.value);
    const double left = height * std::exp(-span / fit.tau.value);
    const double wait =
        height > settings.tolerance ? fit.tau.value * std::log(height / settings.tolerance) : 0.0;
    trend.settled_value = fit.level;
    if (height <= settings.tolerance) {
        trend.verdict = Verdict::stable;
        trend.settled_at = figures.front().time;
        trend.what =
            fmt::format("stands at {:.5g} within {:.2g}", fit.level.value, settings.tolerance);
    } else if (left > settings.tolerance) {
        trend.verdict = Verdict::settling;
        trend.what = fmt::format("on its way to {:.5g}, time constant {:.3g} min, {:.2g} to go",
                                 fit.level.value, fit.tau.value / 60.0, left);
    } else if (settings.coverage * fit.level.u_k1 > settings.tolerance) {
        trend.verdict = Verdict::undecided;
        trend.what = fmt::format("would settle at {:.5g} ± {:.2g}: too uncertain", fit.level.value,
                                 settings.coverage * fit.level.u_k1);
    } else {
        trend.verdict = Verdict::settled;
        trend.settled_at = figures.front().time + Seconds{wait};
        trend.what = fmt::format("settled at {:.5g} after {:.3g} min, time constant {:.3g} min",
                                 fit.level.value, wait / 60.0, fit.tau.value / 60.0);
    }
}

void judge_step(Trend& trend, const TrendFit& fit, std::span<const DatedFigure> figures,
                const TrendSettings& settings) {
    const double height = std::abs(fit.height.value);
    if (height <= settings.tolerance) {
        trend.verdict = Verdict::stable;
        trend.settled_value = fit.level;
        trend.settled_at = figures.front().time;
        trend.what =
            fmt::format("stands at {:.5g} within {:.2g}", fit.level.value, settings.tolerance);
    } else if (height > settings.coverage * fit.height.u_k1) {
        trend.verdict = Verdict::stepped;
        trend.what =
            fmt::format("stepped by {:+.3g} at {:.3g} min", fit.height.value, fit.at.value / 60.0);
    } else {
        trend.verdict = Verdict::undecided;
        trend.what = fmt::format("may have stepped by {:+.3g} ± {:.2g}", fit.height.value,
                                 settings.coverage * fit.height.u_k1);
    }
}

}  // namespace

std::string_view name(Trend::Verdict verdict) {
    switch (verdict) {
        case Verdict::stable:
            return "stable";
        case Verdict::settled:
            return "settled";
        case Verdict::settling:
            return "settling";
        case Verdict::drifting:
            return "drifting";
        case Verdict::stepped:
            return "stepped";
        case Verdict::unstable:
            return "unstable";
        case Verdict::undecided:
            return "undecided";
    }
    return "";
}

Trend trend_of(std::span<const DatedFigure> figures, const TrendSettings& settings) {
    Trend trend;
    if (figures.size() < 3 || !(settings.tolerance > 0.0)) {
        trend.what = settings.tolerance > 0.0
                         ? fmt::format("{} readings: three are needed", figures.size())
                         : "no tolerance was given";
        return trend;
    }
    trend.fit = best_fit(figures);
    if (const auto line = fit_line(figures)) {
        trend.drift = line->drift;
    }
    const double last_third = figures.back().time.in<Seconds>() -
                              (figures.back().time - figures.front().time).in<Seconds>() / 3.0;
    const auto from = std::find_if(figures.begin(), figures.end(), [&](const DatedFigure& one) {
        return one.time.in<Seconds>() >= last_third;
    });
    if (const auto line =
            fit_line(figures.subspan(static_cast<std::size_t>(from - figures.begin())))) {
        trend.final_drift = line->drift;
    }
    if (!trend.fit) {
        trend.what = "no course fits";
        return trend;
    }
    const TrendFit& fit = *trend.fit;
    const bool known = std::all_of(figures.begin(), figures.end(),
                                   [](const DatedFigure& one) { return one.u_k1 > 0.0; });
    if (fit.kind != TrendFit::Kind::constant && fit.sigma > settings.tolerance &&
        !scatter_explained(fit, known)) {
        trend.verdict = Verdict::unstable;
        trend.what = fmt::format("scatters by {:.3g} about its course, {:.2g} is allowed",
                                 fit.sigma, settings.tolerance);
        return trend;
    }
    switch (fit.kind) {
        case TrendFit::Kind::constant:
            judge_constant(trend, fit, figures, settings);
            break;
        case TrendFit::Kind::line:
            judge_line(trend, fit, figures, settings);
            break;
        case TrendFit::Kind::exponential:
            judge_exponential(trend, fit, figures, settings);
            break;
        case TrendFit::Kind::step:
            judge_step(trend, fit, figures, settings);
            break;
    }
    return trend;
}

}  // namespace afterload::analysis
