/// A figure: a measured quantity with its uncertainty, the budget behind it, the conditions it was
/// measured under and what the rig itself may have added or cancelled. Never a bare number.
#pragma once

#include "analysis/conditions.hpp"

#include <limits>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace afterload {

/// What can be measured. The names (`name`) are part of the contract with files and documents.
enum class FigureKind {
    output_voltage,
    output_power,
    short_term_power,
    gain,
    channel_balance,
    level_linearity,
    dc_offset,
    frequency,
    thd,
    thd_plus_noise,
    harmonic,
    sinad,
    modulation_distortion,
    difference_frequency_distortion,
    frequency_response,
    bandwidth_low,
    bandwidth_high,
    power_bandwidth,
    distortion_limited_power,
    clipping_symmetry,
    noise_voltage,
    signal_to_noise,
    hum_voltage,
    random_steps,
    channel_separation,
    output_impedance,
    damping_factor,
    input_sensitivity,
    overload_level,
    equalisation_error,
    tone_range_error,
    volume_tracking,
    polarity,
    channel_identity,
    quiescent_current,
    supply_rail,
    temperature,
    mains_voltage,
    mains_power,
    relay_delay
};

/// SI units a figure is stated in. `ratio` prints as "1" in documents.
enum class Unit { volt, watt, hertz, ratio, decibel, ohm, ampere, celsius, second, per_second };

[[nodiscard]] std::string_view name(FigureKind kind);  ///< "thd_plus_noise"
[[nodiscard]] std::optional<FigureKind> figure_kind(std::string_view name);
[[nodiscard]] const std::vector<FigureKind>& all_figure_kinds();
[[nodiscard]] Unit unit_of(FigureKind kind);
[[nodiscard]] std::string_view symbol(Unit unit);  ///< "V", "W", "Hz", "1", "dB", ...

/// Is a smaller reading better (distortion, noise), a larger one (power, separation), or neither?
enum class Better { smaller, larger, neither };
[[nodiscard]] Better better(FigureKind kind);

/// One line of an uncertainty budget. `source` is an identity: this divider, this load, this meter
/// on this date. Two runs that share a systematic source share its error.
struct BudgetLine {
    enum class Kind { noise, systematic, bound };
    std::string source;
    Kind kind = Kind::noise;
    double u_k1 = 0.0;  ///< standard uncertainty in the figure's own unit
    double degrees_of_freedom = std::numeric_limits<double>::infinity();
};
[[nodiscard]] std::string_view name(BudgetLine::Kind kind);  ///< "noise", "systematic", "bound"

using Budget = std::vector<BudgetLine>;

/// Combined standard uncertainty of independent lines: root of the sum of squares (GUM 5.1.2).
[[nodiscard]] double combined(const Budget& budget);

/// Expanded uncertainty: twice the combined one (k = 2).
[[nodiscard]] double expanded(const Budget& budget);

/// Effective degrees of freedom of the combined uncertainty, a whole number; infinite when every
/// line is known well. Source: Welch-Satterthwaite, GUM G.4.1, truncated downwards.
[[nodiscard]] double effective_degrees_of_freedom(const Budget& budget);

/// A one-sided statement: the true value is at most, or at least, `value`.
struct Bound {
    enum class Side { at_most, at_least };
    double value = 0.0;
    Side side = Side::at_most;
};
[[nodiscard]] std::string_view name(Bound::Side side);  ///< "at_most", "at_least"

/// A row of a harmonic table: amplitude ratio re the fundamental and phase relative to it,
/// φ_k − k·φ_1 of cosines, in degrees within (−180, 180].
struct HarmonicRow {
    int order = 2;
    double ratio = 0.0;
    double phase_degrees = 0.0;
    double u_k1 = 0.0;
};

/// A figure against frequency. All vectors have the length of `frequency_hz`, or are empty.
struct Curve {
    std::vector<double> frequency_hz;
    std::vector<double> value;
    std::vector<double> phase_degrees;
    std::vector<double> u_k1;
};

struct Figure {
    FigureKind kind = FigureKind::output_voltage;
    int channel = 0;                          ///< 1 left, 2 right, 0 not of one channel
    std::optional<std::pair<int, int>> pair;  ///< from, to: of separation and balance
    std::optional<double> value;              ///< in unit_of(kind); absent where only a bound holds
    std::optional<Bound> bound;
    Budget budget;
    std::optional<double> rig_added;      ///< largest the rig may have added; absent: unknown
    std::optional<double> rig_cancelled;  ///< largest the rig may have hidden; absent: unknown
    Conditions conditions;
    std::vector<std::string> assumed;  ///< conditions that the rating left open, by key
    std::vector<HarmonicRow> table;    ///< of `harmonic`
    std::optional<Curve>
        curve;  ///< of `frequency_response`, dB; of `noise_voltage` its density, V/√Hz
    std::vector<std::pair<std::string, double>> details;  ///< further numbers by name, SI units
    std::string
        unresolved;  ///< why there is no figure, and what would resolve it; empty if there is
};

}  // namespace afterload
