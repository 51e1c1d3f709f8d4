#include "analysis/measure.hpp"
#include "analysis/rig_part.hpp"
#include "analysis/scale.hpp"
#include "analysis/tone_figure.hpp"

#include <fmt/format.h>

#include <utility>

namespace afterload::analysis {

namespace {

using Kind = BudgetLine::Kind;

// Of a bound, the reading is kept in the details.
double reading_of(const Figure& figure) {
    double reading = figure.value.value_or(0.0);
    for (const auto& [name, value] : figure.details) {
        reading = !figure.value && name == "reading" ? value : reading;
    }
    return reading;
}

void add_volts_lines(Figure& figure, const Estimate& volts, const BenchShare& bench) {
    add_line(figure.budget, Kind::noise, record_noise, "", noise_of(volts));
    add_line(figure.budget, Kind::systematic, bench.level_source, "level",
             volts.value * bench.level_u_k1);
}

}  // namespace

Figure noise(WaveformView record, int channel, const NoiseSettings& settings,
             const BenchShare& bench, Conditions conditions) {
    Figure figure;
    figure.kind = FigureKind::noise_voltage;
    figure.channel = channel;
    figure.conditions = std::move(conditions);
    figure.conditions.bandwidth = settings.bandwidth;
    figure.conditions.weighting = settings.weighting;
    const Expected<Estimate> volts = noise_voltage(record, settings);
    if (!volts) {
        return without_value(std::move(figure), volts.error().what);
    }
    figure.value = volts->value;
    add_volts_lines(figure, *volts, bench);
    state_rig(figure, of_noise(bench, volts->value, settings), volts->bound);
    return figure;
}

Figure signal_to_noise(const Figure& noise, VoltsRms reference) {
    Figure figure;
    figure.kind = FigureKind::signal_to_noise;
    figure.channel = noise.channel;
    figure.conditions = noise.conditions;
    if (!figure.conditions.reference_level) {
        figure.conditions.reference_level =
            LevelTarget{LevelTarget::Kind::output_volts, reference.in<VoltsRms>()};
    }
    if (!noise.unresolved.empty() || (!noise.value && !noise.bound)) {
        return without_value(std::move(figure), noise.unresolved);
    }
    const double volts = reference.in<VoltsRms>();
    const double reading = reading_of(noise);
    if (!(reading > 0.0) || !(volts > 0.0)) {
        return without_value(std::move(figure),
                             "there is no noise at all to refer to: check that "
                             "the channel is connected");
    }
    figure.value = unscored(figure.kind, reading / volts);
    for (BudgetLine line : noise.budget) {
        line.u_k1 *= decibels_a_neper / reading;
        figure.budget.push_back(std::move(line));
    }
    const auto as_ratio = [volts](const std::optional<double>& part) {
        return part ? std::optional{*part / volts} : std::nullopt;
    };
    if (!noise.bound) {
        state_rig(figure, {as_ratio(noise.rig_added), as_ratio(noise.rig_cancelled)}, std::nullopt);
        return figure;
    }
    // The bound of the noise holds its uncertainty and the rig's part already.
    figure.details.emplace_back("reading", *figure.value);
    figure.value.reset();
    figure.bound = Bound{unscored(figure.kind, noise.bound->value / volts), Bound::Side::at_least};
    if (noise.rig_cancelled) {
        const double without = noise.bound->value - *noise.rig_cancelled;
        figure.rig_cancelled = unscored(figure.kind, without / volts) - figure.bound->value;
    }
    return figure;
}

Figure hum_voltage(WaveformView record, int channel, Hertz mains, const BenchShare& bench,
                   Conditions conditions) {
    Figure figure;
    figure.kind = FigureKind::hum_voltage;
    figure.channel = channel;
    figure.conditions = std::move(conditions);
    const Expected<Hum> lines = hum(record, mains);
    if (!lines) {
        return without_value(std::move(figure), lines.error().what);
    }
    figure.value = lines->together.value;
    add_volts_lines(figure, lines->together, bench);
    for (const HumLine& line : lines->lines) {
        if (line.order == 1) {
            figure.details.emplace_back("mains_frequency", line.frequency.in<Hertz>());
        }
        figure.details.emplace_back(fmt::format("line_{}", line.order), line.voltage.value);
    }
    state_rig(figure, of_hum(bench), lines->together.bound);
    return figure;
}

Figure dc_offset(VoltsDc value, double u_k1, const std::string& source, int channel,
                 Conditions conditions) {
    Figure figure;
    figure.kind = FigureKind::dc_offset;
    figure.channel = channel;
    figure.conditions = std::move(conditions);
    figure.value = value.in<VoltsDc>();
    add_line(figure.budget, Kind::systematic, source, "meter", u_k1);
    figure.rig_added = 0.0;
    figure.rig_cancelled = 0.0;
    return figure;
}

}  // namespace afterload::analysis
