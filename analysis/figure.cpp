#include "analysis/figure.hpp"

#include <array>
#include <cmath>

namespace afterload {

namespace {

struct KindRow {
    FigureKind kind;
    std::string_view name;
    Unit unit;
    Better better;
};

constexpr std::array kind_rows{
    KindRow{FigureKind::output_voltage, "output_voltage", Unit::volt, Better::larger},
    KindRow{FigureKind::output_power, "output_power", Unit::watt, Better::larger},
    KindRow{FigureKind::short_term_power, "short_term_power", Unit::watt, Better::larger},
    KindRow{FigureKind::gain, "gain", Unit::decibel, Better::neither},
    KindRow{FigureKind::channel_balance, "channel_balance", Unit::decibel, Better::neither},
    KindRow{FigureKind::level_linearity, "level_linearity", Unit::decibel, Better::neither},
    KindRow{FigureKind::dc_offset, "dc_offset", Unit::volt, Better::neither},
    KindRow{FigureKind::frequency, "frequency", Unit::hertz, Better::neither},
    KindRow{FigureKind::thd, "thd", Unit::ratio, Better::smaller},
    KindRow{FigureKind::thd_plus_noise, "thd_plus_noise", Unit::ratio, Better::smaller},
    KindRow{FigureKind::harmonic, "harmonic", Unit::ratio, Better::smaller},
    KindRow{FigureKind::sinad, "sinad", Unit::decibel, Better::larger},
    KindRow{FigureKind::modulation_distortion, "modulation_distortion", Unit::ratio,
            Better::smaller},
    KindRow{FigureKind::difference_frequency_distortion, "difference_frequency_distortion",
            Unit::ratio, Better::smaller},
    KindRow{FigureKind::frequency_response, "frequency_response", Unit::decibel, Better::neither},
    KindRow{FigureKind::bandwidth_low, "bandwidth_low", Unit::hertz, Better::smaller},
    KindRow{FigureKind::bandwidth_high, "bandwidth_high", Unit::hertz, Better::larger},
    KindRow{FigureKind::power_bandwidth, "power_bandwidth", Unit::hertz, Better::larger},
    KindRow{FigureKind::distortion_limited_power, "distortion_limited_power", Unit::watt,
            Better::larger},
    KindRow{FigureKind::clipping_symmetry, "clipping_symmetry", Unit::ratio, Better::neither},
    KindRow{FigureKind::noise_voltage, "noise_voltage", Unit::volt, Better::smaller},
    KindRow{FigureKind::signal_to_noise, "signal_to_noise", Unit::decibel, Better::larger},
    KindRow{FigureKind::hum_voltage, "hum_voltage", Unit::volt, Better::smaller},
    KindRow{FigureKind::random_steps, "random_steps", Unit::per_second, Better::smaller},
    KindRow{FigureKind::channel_separation, "channel_separation", Unit::decibel, Better::larger},
    KindRow{FigureKind::output_impedance, "output_impedance", Unit::ohm, Better::smaller},
    KindRow{FigureKind::damping_factor, "damping_factor", Unit::ratio, Better::larger},
    KindRow{FigureKind::input_sensitivity, "input_sensitivity", Unit::volt, Better::neither},
    KindRow{FigureKind::overload_level, "overload_level", Unit::volt, Better::larger},
    KindRow{FigureKind::equalisation_error, "equalisation_error", Unit::decibel, Better::neither},
    KindRow{FigureKind::tone_range_error, "tone_range_error", Unit::decibel, Better::neither},
    KindRow{FigureKind::volume_tracking, "volume_tracking", Unit::decibel, Better::neither},
    KindRow{FigureKind::polarity, "polarity", Unit::ratio, Better::neither},
    KindRow{FigureKind::channel_identity, "channel_identity", Unit::ratio, Better::neither},
    KindRow{FigureKind::quiescent_current, "quiescent_current", Unit::ampere, Better::neither},
    KindRow{FigureKind::supply_rail, "supply_rail", Unit::volt, Better::neither},
    KindRow{FigureKind::temperature, "temperature", Unit::celsius, Better::neither},
    KindRow{FigureKind::mains_voltage, "mains_voltage", Unit::volt, Better::neither},
    KindRow{FigureKind::mains_power, "mains_power", Unit::watt, Better::neither},
    KindRow{FigureKind::relay_delay, "relay_delay", Unit::second, Better::neither},
};

// The rows stand in the order of the enumerators, so that a kind is an index.
constexpr bool rows_in_order() {
    for (std::size_t i = 0; i < kind_rows.size(); ++i) {
        if (kind_rows[i].kind != static_cast<FigureKind>(i)) {
            return false;
        }
    }
    return kind_rows.back().kind == FigureKind::relay_delay;
}
static_assert(rows_in_order());

const KindRow& row_of(FigureKind kind) {
    return kind_rows.at(static_cast<std::size_t>(kind));
}

}  // namespace

std::string_view name(FigureKind kind) {
    return row_of(kind).name;
}

std::optional<FigureKind> figure_kind(std::string_view name) {
    for (const KindRow& row : kind_rows) {
        if (row.name == name) {
            return row.kind;
        }
    }
    return std::nullopt;
}

const std::vector<FigureKind>& all_figure_kinds() {
    static const std::vector<FigureKind> kinds = [] {
        std::vector<FigureKind> all;
        all.reserve(kind_rows.size());
        for (const KindRow& row : kind_rows) {
            all.push_back(row.kind);
        }
        return all;
    }();
    return kinds;
}

Unit unit_of(FigureKind kind) {
    return row_of(kind).unit;
}

Better better(FigureKind kind) {
    return row_of(kind).better;
}

std::string_view symbol(Unit unit) {
    switch (unit) {
        case Unit::volt:
            return "V";
        case Unit::watt:
            return "W";
        case Unit::hertz:
            return "Hz";
        case Unit::ratio:
            return "1";
        case Unit::decibel:
            return "dB";
        case Unit::ohm:
            return "ohm";
        case Unit::ampere:
            return "A";
        case Unit::celsius:
            return "degC";
        case Unit::second:
            return "s";
        case Unit::per_second:
            return "1/s";
    }
    return "";
}

std::string_view name(BudgetLine::Kind kind) {
    switch (kind) {
        case BudgetLine::Kind::noise:
            return "noise";
        case BudgetLine::Kind::systematic:
            return "systematic";
        case BudgetLine::Kind::bound:
            return "bound";
    }
    return "";
}

double combined(const Budget& budget) {
    double square = 0.0;
    for (const BudgetLine& line : budget) {
        square += line.u_k1 * line.u_k1;
    }
    return std::sqrt(square);
}

double expanded(const Budget& budget) {
    return 2.0 * combined(budget);
}

double effective_degrees_of_freedom(const Budget& budget) {
    const double total = combined(budget);
    double sum = 0.0;
    for (const BudgetLine& line : budget) {
        // Of shares, so that microvolts to the fourth power do not run out of exponent.
        const double share = total > 0.0 ? line.u_k1 / total : 0.0;
        sum += share * share * share * share / line.degrees_of_freedom;
    }
    // A whole number must not be lost to the last digit of a rounding.
    constexpr double rounding = 1.0 + 1e-12;
    return sum > 0.0 ? std::floor(rounding / sum) : std::numeric_limits<double>::infinity();
}

std::string_view name(Bound::Side side) {
    return side == Bound::Side::at_most ? "at_most" : "at_least";
}

}  // namespace afterload
