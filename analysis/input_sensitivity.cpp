#include "analysis/input_sensitivity.hpp"

#include "analysis/rig_part.hpp"
#include "analysis/tone_figure.hpp"

#include <fmt/format.h>

#include <cmath>
#include <numbers>
#include <optional>
#include <utility>

namespace afterload::analysis {

namespace {

using Kind = BudgetLine::Kind;

constexpr double longest_step_db = 1.0;

// Of a step in drive, a hard clipper at 1 % distortion keeps 74 % as output: from 0.5 to 1 % the
// drive rises by 0.112 dB and the power by 0.083 dB. No rated output lies deeper in the clipping.
constexpr double share_lost_at_the_limit = 0.3;

LevelTarget target_of(const RatedOutput& output) {
    if (const auto* watts = std::get_if<Watts>(&output)) {
        return {LevelTarget::Kind::output_power, watts->in<Watts>()};
    }
    return {LevelTarget::Kind::output_volts, std::get<VoltsRms>(output).in<VoltsRms>()};
}

std::optional<VoltsRms> volts_of(const RatedOutput& output, const std::optional<Ohms>& load) {
    if (const auto* volts = std::get_if<VoltsRms>(&output)) {
        return *volts;
    }
    const Watts watts = std::get<Watts>(output);
    return load && watts > Watts{0.0} ? std::optional{voltage_for(watts, *load)} : std::nullopt;
}

}  // namespace

Figure input_sensitivity(const ToneRecord& tone, VoltsRms drive, const RatedOutput& output) {
    Figure figure = begin(FigureKind::input_sensitivity, tone);
    const BenchShare& bench = tone.bench;
    if (!figure.conditions.output_level) {
        figure.conditions.output_level = target_of(output);
    }
    if (!(drive > VoltsRms{0.0})) {
        return without_value(std::move(figure), "the channel was not driven");
    }
    const std::optional<VoltsRms> wanted = volts_of(output, bench.load);
    if (!wanted || !(*wanted > VoltsRms{0.0})) {
        return without_value(std::move(figure),
                             "the rated output has no volts: state it above zero and, in watts, "
                             "with the load");
    }
    if (buried(tone.fit)) {
        return without_value(std::move(figure), "no tone stands out of the noise: drive more");
    }
    const VoltsRms reached = rms_of_sine(VoltsPeak{tone.fit.fundamental.amplitude});
    const double step = *wanted / reached;
    const double step_db = gain_of(AmplitudeRatio{step}).decibels();
    if (!(std::abs(step_db) <= longest_step_db)) {
        return without_value(
            std::move(figure),
            fmt::format("the record is {:.2f} dB {} the rated output: drive to "
                        "within {:.0f} dB of it, for the gain may change on the "
                        "way",
                        std::abs(step_db), step_db > 0.0 ? "below" : "above", longest_step_db));
    }
    const double volts = (step * drive).in<VoltsRms>();
    figure.value = volts;
    add_line(figure.budget, Kind::noise, record_noise, "", volts * relative_noise(tone.fit));
    add_line(figure.budget, Kind::systematic, bench.level_source, "level",
             volts * bench.level_u_k1);
    add_line(figure.budget, Kind::systematic, bench.drive_source, "drive",
             volts * bench.drive_u_k1);
    if (std::holds_alternative<Watts>(output)) {
        // V = √(PR): half of what the load is off.
        add_line(figure.budget, Kind::systematic, bench.load_source, "load",
                 0.5 * volts * bench.load_u_k1);
        add_line(figure.budget, Kind::bound,
                 bench.load_source.empty() ? "" : bench.load_source + ", its own heat",
                 "load, its own heat", 0.5 * volts * bench.load_heat_u_k1);
    }
    add_line(figure.budget, Kind::bound, "gain over the last step", "",
             volts * share_lost_at_the_limit * std::abs(std::log(step)) / std::numbers::sqrt3);
    const RigPart part = calibrated_away(bench);
    figure.rig_added = part.added;
    figure.rig_cancelled = part.cancelled;
    return figure;
}

}  // namespace afterload::analysis
