#include "analysis/setting_up.hpp"

#include "analysis/tone_figure.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

namespace afterload::analysis {

namespace {

constexpr const char* repeated = "a bench repeats a level to some hundredths of a decibel";
constexpr const char* mark = "a knob set to a mark again by eye";
constexpr const char* rails = "power at the clipping point goes as the square of the mains";
constexpr const char* bias = "distortion of one unit moves by some per cent with its bias";
constexpr const char* leads = "leads laid again, contacts made again";
constexpr const char* settled = "settles within 10 % in half an hour";
constexpr const char* steady = "stands within 5 mV once it is warm";
constexpr const char* counted = "follows its own count";

constexpr bool relative = false;
constexpr bool absolute = true;

// kind, volume, mains, temperature, absolute, why. In the order of FigureKind.
constexpr std::array table{
    SettingUp{FigureKind::output_voltage, 0.0, 1.0, 0.003, relative, rails},
    SettingUp{FigureKind::output_power, 0.0, 2.0, 0.005, relative, rails},
    SettingUp{FigureKind::short_term_power, 0.0, 2.0, 0.01, relative, rails},
    SettingUp{FigureKind::gain, 0.1, 0.0, 0.02, absolute, repeated},
    SettingUp{FigureKind::channel_balance, 0.05, 0.0, 0.01, absolute, repeated},
    SettingUp{FigureKind::level_linearity, 0.0, 0.0, 0.02, absolute, repeated},
    SettingUp{FigureKind::dc_offset, 0.0, 0.0, 0.003, absolute, steady},
    SettingUp{FigureKind::frequency, 0.0, 0.0, 0.0, relative, counted},
    SettingUp{FigureKind::thd, 0.0, 0.0, 0.05, relative, bias},
    SettingUp{FigureKind::thd_plus_noise, 0.0, 0.0, 0.03, relative, bias},
    SettingUp{FigureKind::harmonic, 0.0, 0.0, 0.05, relative, bias},
    SettingUp{FigureKind::sinad, 0.0, 0.0, 0.3, absolute, bias},
    SettingUp{FigureKind::modulation_distortion, 0.0, 0.0, 0.05, relative, bias},
    SettingUp{FigureKind::difference_frequency_distortion, 0.0, 0.0, 0.05, relative, bias},
    SettingUp{FigureKind::frequency_response, 0.0, 0.0, 0.02, absolute, repeated},
    SettingUp{FigureKind::bandwidth_low, 0.0, 0.0, 0.01, relative, repeated},
    SettingUp{FigureKind::bandwidth_high, 0.0, 0.0, 0.01, relative, repeated},
    SettingUp{FigureKind::power_bandwidth, 0.0, 0.0, 0.03, relative, bias},
    SettingUp{FigureKind::distortion_limited_power, 0.0, 2.0, 0.01, relative, rails},
    SettingUp{FigureKind::clipping_symmetry, 0.0, 0.0, 0.03, relative, rails},
    SettingUp{FigureKind::noise_voltage, 0.012, 0.0, 0.03, relative, leads},
    SettingUp{FigureKind::signal_to_noise, 0.1, 0.0, 0.3, absolute, leads},
    SettingUp{FigureKind::hum_voltage, 0.012, 1.0, 0.1, relative, leads},
    SettingUp{FigureKind::random_steps, 0.0, 0.0, 0.0, relative, counted},
    SettingUp{FigureKind::channel_separation, 0.0, 0.0, 0.5, absolute, leads},
    SettingUp{FigureKind::output_impedance, 0.0, 0.0, 0.05, relative, leads},
    SettingUp{FigureKind::damping_factor, 0.0, 0.0, 0.05, relative, leads},
    SettingUp{FigureKind::input_sensitivity, 0.012, 0.0, 0.002, relative, mark},
    SettingUp{FigureKind::overload_level, 0.0, 1.0, 0.005, relative, rails},
    SettingUp{FigureKind::equalisation_error, 0.0, 0.0, 0.02, absolute, repeated},
    SettingUp{FigureKind::tone_range_error, 0.0, 0.0, 0.2, absolute, mark},
    SettingUp{FigureKind::volume_tracking, 0.1, 0.0, 0.02, absolute, mark},
    SettingUp{FigureKind::polarity, 0.0, 0.0, 0.0, relative, counted},
    SettingUp{FigureKind::channel_identity, 0.0, 0.0, 0.0, relative, counted},
    SettingUp{FigureKind::quiescent_current, 0.0, 1.0, 0.05, relative, settled},
    SettingUp{FigureKind::supply_rail, 0.0, 1.0, 0.002, relative, rails},
    SettingUp{FigureKind::temperature, 0.0, 0.0, 2.0, absolute, settled},
    SettingUp{FigureKind::mains_voltage, 0.0, 1.0, 0.0, relative, rails},
    SettingUp{FigureKind::mains_power, 0.0, 2.0, 0.03, relative, settled},
    SettingUp{FigureKind::relay_delay, 0.0, 0.0, 0.05, relative, settled},
};

constexpr bool in_order() {
    for (std::size_t i = 0; i < table.size(); ++i) {
        if (table[i].kind != static_cast<FigureKind>(i)) {
            return false;
        }
    }
    return table.back().kind == FigureKind::relay_delay;
}
static_assert(in_order());

bool at_an_end_stop(const Conditions& conditions) {
    return !conditions.volume || *conditions.volume == "maximum" || *conditions.volume == "zero";
}

// What a relative change is of: the larger reading, or the bound in its place.
double size_of(const Figure& figure) {
    if (figure.value) {
        return std::abs(*figure.value);
    }
    return figure.bound ? std::abs(figure.bound->value) : 0.0;
}

// Relative standard uncertainty of the mains between the two runs.
double mains_between(const Conditions& before, const Conditions& after) {
    if (before.mains_voltage && after.mains_voltage && *before.mains_voltage > 0.0 &&
        *after.mains_voltage > 0.0) {
        return std::abs(std::log(*after.mains_voltage / *before.mains_voltage)) /
               std::numbers::sqrt3;
    }
    return std::numbers::sqrt2 * mains_from_hour_to_hour;
}

}  // namespace

const SettingUp& setting_up(FigureKind kind) {
    return table.at(static_cast<std::size_t>(kind));
}

std::optional<Repeats> repeats(FigureKind kind, const std::vector<std::vector<double>>& rows,
                               double degrees_of_freedom) {
    const bool plain = setting_up(kind).absolute;
    double squares = 0.0;
    double freedom = 0.0;
    for (const std::vector<double>& row : rows) {
        double mean = 0.0;
        for (const double value : row) {
            mean += value / static_cast<double>(row.size());
        }
        if (row.size() < 2 || (!plain && mean == 0.0)) {
            continue;
        }
        for (const double value : row) {
            const double away = plain ? value - mean : (value - mean) / mean;
            squares += away * away;
        }
        freedom += static_cast<double>(row.size() - 1);
    }
    if (freedom <= 0.0 || degrees_of_freedom < fewest_degrees_of_freedom) {
        return std::nullopt;
    }
    return Repeats{std::sqrt(squares / freedom), degrees_of_freedom};
}

Budget of_setting_up(const Figure& before, const Figure& after, const std::optional<Repeats>& own) {
    const SettingUp& once = setting_up(after.kind);
    const double size = std::max(size_of(before), size_of(after));
    const double scale = once.absolute ? 1.0 : size;
    Budget lines;
    if (own) {
        lines.push_back({"setting up again, own repeats", BudgetLine::Kind::noise,
                         std::numbers::sqrt2 * own->scatter * scale, own->degrees_of_freedom});
        return lines;
    }
    if (!at_an_end_stop(before.conditions) || !at_an_end_stop(after.conditions)) {
        add_line(lines, BudgetLine::Kind::bound, "setting up again, volume (common practice)", "",
                 std::numbers::sqrt2 * once.volume * scale);
    }
    const double mains = once.mains * mains_between(before.conditions, after.conditions);
    add_line(lines, BudgetLine::Kind::bound, "setting up again, mains (common practice)", "",
             mains * size);
    add_line(lines, BudgetLine::Kind::bound, "setting up again, temperature (common practice)", "",
             std::numbers::sqrt2 * once.temperature * scale);
    return lines;
}

}  // namespace afterload::analysis
