#include "analysis/rating.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>

namespace afterload {

namespace {

// Rounding of a printed figure and a tolerance of a service sheet; above this it is a slip.
constexpr double power_tolerance = 0.05;   // 28 V for 100 W into 8 ohm is 98 W
constexpr double gain_tolerance_db = 1.0;  // sheets hold the gain within 1 dB of the implied one

std::optional<double> stated_value(const RatedFigure& rated) {
    const Limit& limit = rated.limit;
    if (limit.nominal) {
        return limit.nominal;
    }
    if (limit.at_least && limit.at_most) {
        return (*limit.at_least + *limit.at_most) / 2.0;
    }
    return limit.at_least ? limit.at_least : limit.at_most;
}

bool outside(double value, const RatedFigure& rated, double slack) {
    const std::optional<double> middle = stated_value(rated);
    const double low = rated.limit.at_least.value_or(*middle);
    const double high = rated.limit.at_most.value_or(*middle);
    return value < low - slack || value > high + slack;
}

// A slip wants both figures under one condition: where both state it, they must agree.
template <class T>
bool agree(const std::optional<T>& a, const std::optional<T>& b) {
    return !a || !b || *a == *b;
}

std::vector<const RatedFigure*> of_kind(const RatingSheet& sheet, FigureKind kind) {
    std::vector<const RatedFigure*> found;
    for (const RatedFigure& rated : sheet.figures) {
        if (rated.figure == kind && stated_value(rated)) {
            found.push_back(&rated);
        }
    }
    return found;
}

void power_against_volts(const RatingSheet& sheet, std::vector<std::string>& found) {
    for (const RatedFigure* volts : of_kind(sheet, FigureKind::output_voltage)) {
        for (const RatedFigure* power : of_kind(sheet, FigureKind::output_power)) {
            const auto& v = volts->conditions;
            const auto& p = power->conditions;
            if (!v.load || !p.load || *v.load != *p.load || !agree(v.output, p.output) ||
                !agree(v.channels_driven, p.channels_driven) ||
                !agree(v.output_level, p.output_level)) {
                continue;
            }
            const double watts = *stated_value(*power);
            const double implied = dissipated(VoltsRms{*stated_value(*volts)}, *v.load).in<Watts>();
            if (std::abs(implied - watts) > power_tolerance * watts) {
                found.push_back(fmt::format(
                    "{} says {:.4g} W into {:.4g} ohm, {} says {:.4g} V, which is {:.4g} W",
                    power->id, watts, p.load->in<Ohms>(), volts->id, *stated_value(*volts),
                    implied));
            }
        }
    }
}

bool is_phono(const RatedFigure& rated) {
    return rated.conditions.input && rated.conditions.input->starts_with("phono");
}

bool at_speaker(const RatedFigure& rated) {
    return !rated.conditions.output || rated.conditions.output->starts_with("speaker");
}

struct Drive {
    VoltsRms output;
    Watts power;
    Ohms load;
};

// The outputs a sensitivity may refer to: 1 W and the like as stated, else each rated power.
std::vector<Drive> outputs_of(const RatedFigure& sensitivity, const RatingSheet& sheet) {
    std::vector<Drive> outputs;
    const std::optional<LevelTarget>& level = sensitivity.conditions.output_level;
    for (const RatedFigure* power : of_kind(sheet, FigureKind::output_power)) {
        const std::optional<Ohms> load = power->conditions.load;
        if (!load || !agree(sensitivity.conditions.load, load)) {
            continue;
        }
        Watts watts{*stated_value(*power)};
        if (level && level->kind == LevelTarget::Kind::output_power) {
            watts = Watts{level->value};
        } else if (level && level->kind == LevelTarget::Kind::rated_fraction) {
            watts = level->value * watts;
        } else if (level) {
            continue;
        }
        outputs.push_back({voltage_for(watts, *load), watts, *load});
    }
    return outputs;
}

void gain_against_sensitivity(const RatingSheet& sheet, std::vector<std::string>& found) {
    for (const RatedFigure* gain : of_kind(sheet, FigureKind::gain)) {
        for (const RatedFigure* input : of_kind(sheet, FigureKind::input_sensitivity)) {
            if (!at_speaker(*gain) || !at_speaker(*input) || !gain->conditions.input.has_value() ||
                !input->conditions.input.has_value() ||
                gain->conditions.input != input->conditions.input ||
                (is_phono(*gain) && !gain->conditions.output)) {
                continue;
            }
            const VoltsRms sensitivity{*stated_value(*input)};
            const std::vector<Drive> outputs = outputs_of(*input, sheet);
            const auto implied = [sensitivity](const Drive& drive) {
                return gain_of(AmplitudeRatio{drive.output / sensitivity}).decibels();
            };
            const auto at_odds = [&](const Drive& drive) {
                return outside(implied(drive), *gain, gain_tolerance_db);
            };
            if (!outputs.empty() && std::ranges::all_of(outputs, at_odds)) {
                const Drive& drive = outputs.front();
                found.push_back(fmt::format(
                    "{} says {:.4g} dB, {} says {:.4g} mV for {:.4g} W into {:.4g} ohm, which is "
                    "{:.4g} dB",
                    gain->id, *stated_value(*gain), input->id, 1e3 * sensitivity.in<VoltsRms>(),
                    drive.power.in<Watts>(), drive.load.in<Ohms>(), implied(drive)));
            }
        }
    }
}

// The phono stage ends where the line inputs begin, so its gain is the ratio of two sensitivities.
void phono_gain_against_sensitivities(const RatingSheet& sheet, std::vector<std::string>& found) {
    for (const RatedFigure* gain : of_kind(sheet, FigureKind::gain)) {
        if (!is_phono(*gain) || (gain->conditions.output && at_speaker(*gain))) {
            continue;
        }
        for (const RatedFigure* phono : of_kind(sheet, FigureKind::input_sensitivity)) {
            for (const RatedFigure* line : of_kind(sheet, FigureKind::input_sensitivity)) {
                if (!is_phono(*phono) || is_phono(*line) || !line->conditions.input ||
                    gain->conditions.input != phono->conditions.input ||
                    !agree(phono->conditions.output_level, line->conditions.output_level)) {
                    continue;
                }
                const double ratio = *stated_value(*line) / *stated_value(*phono);
                const double implied = gain_of(AmplitudeRatio{ratio}).decibels();
                if (outside(implied, *gain, gain_tolerance_db)) {
                    found.push_back(fmt::format(
                        "{} says {:.4g} dB, {} and {} say {:.4g} mV and {:.4g} mV, which is "
                        "{:.4g} dB",
                        gain->id, *stated_value(*gain), line->id, phono->id,
                        1e3 * *stated_value(*line), 1e3 * *stated_value(*phono), implied));
                }
            }
        }
    }
}

}  // namespace

std::vector<std::string> contradictions(const RatingSheet& sheet) {
    std::vector<std::string> found;
    power_against_volts(sheet, found);
    gain_against_sensitivity(sheet, found);
    phono_gain_against_sensitivities(sheet, found);
    return found;
}

}  // namespace afterload
