/// A figure against time over a soak: does it stand, drift, step, or settle?
#pragma once

#include "analysis/failure.hpp"
#include "analysis/quantity.hpp"

#include <optional>
#include <span>
#include <string>
#include <string_view>

namespace afterload::analysis {

/// One reading of a figure. `u_k1` is its own standard uncertainty of what scatters from reading to
/// reading (noise), not of what all readings share.
struct DatedFigure {
    Seconds time;
    double value = 0.0;
    double u_k1 = 0.0;  ///< 0: not known; all or none
};

struct WithUncertainty {
    double value = 0.0;
    double u_k1 = 0.0;
};

struct TrendFit {
    enum class Kind {
        constant,     ///< y = a
        line,         ///< y = a + b (t - middle)
        exponential,  ///< y = c + d e^{-(t - first)/tau}: a warm-up curve
        step,         ///< y = a before a moment, a + h behind it
    };
    Kind kind = Kind::constant;
    double sigma = 0.0;  ///< scatter of the readings about the fit, figure's unit
    double chi_squared = 0.0;
    int degrees_of_freedom = 0;
    double criterion = 0.0;  ///< corrected Akaike criterion, lower is better

    WithUncertainty level;   ///< a; c of an exponential (where it settles); a before a step
    WithUncertainty drift;   ///< line: b in units an hour
    WithUncertainty height;  ///< exponential: d; step: h
    WithUncertainty tau;     ///< exponential: s
    WithUncertainty at;      ///< step: s, the moment (uniform between two readings)
};
[[nodiscard]] std::string_view name(TrendFit::Kind kind);

/// Least squares over `figures`, ordered by time. Weighted by 1/u² where u is known, and then the
/// uncertainties are widened by √(χ²/ν) where that is above 1 (Birge); equal weights otherwise.
///
/// Shape   constant: 2 readings; line: 3; step: 5, two on each side at least; exponential: 5,
///         and a tau between half the shortest gap and twice the span.
/// Fails   record_too_short; ill_conditioned (no tau in reach, one time for all).
/// Source  JCGM 100:2008, H.3 (straight line); Golub and Pereyra 1973 (separable least squares: the
///         exponential is linear but for tau); Press et al., Numerical Recipes, 15.4 (covariance).
[[nodiscard]] Expected<TrendFit> fit_constant(std::span<const DatedFigure> figures);
[[nodiscard]] Expected<TrendFit> fit_line(std::span<const DatedFigure> figures);
[[nodiscard]] Expected<TrendFit> fit_exponential(std::span<const DatedFigure> figures);
[[nodiscard]] Expected<TrendFit> fit_step(std::span<const DatedFigure> figures);

struct TrendSettings {
    /// Figure's unit: what matters. A figure stands when it stays within so much of where it
    /// settles; a drift matters when it makes so much in an hour. Above 0.
    double tolerance = 0.0;
    /// How sure, as a two-sided number of standard uncertainties.
    double coverage = 2.0;
};

struct Trend {
    enum class Verdict {
        stable,     ///< within the tolerance throughout, and no drift that matters
        settled,    ///< warmed up and within the tolerance since `settled_at`
        settling,   ///< warms up; not yet within the tolerance
        drifting,   ///< goes on and on: more than the tolerance in an hour
        stepped,    ///< jumped once, by more than the tolerance
        unstable,   ///< scatters by more than the tolerance, and by more than its readings explain
        undecided,  ///< too few readings, or too uncertain for this tolerance
    };
    Verdict verdict = Verdict::undecided;
    std::optional<TrendFit> fit;           ///< the model that tells most with least
    std::optional<WithUncertainty> drift;  ///< an hour, of the straight line over all readings
    std::optional<WithUncertainty> final_drift;  ///< an hour, over the last third of the time
    std::optional<WithUncertainty> settled_value;
    std::optional<Seconds> settled_at;  ///< from then on within the tolerance of settled_value
    std::string what;                   ///< one line, with numbers
};
[[nodiscard]] std::string_view name(Trend::Verdict verdict);

/// The verdict on a figure's course.
///
/// The model is the one of least corrected Akaike criterion (AICc; Hurvich and Tsai 1989), and one
/// of more parameters must be better by 6 at least.
[[nodiscard]] Trend trend_of(std::span<const DatedFigure> figures, const TrendSettings& settings);

}  // namespace afterload::analysis
