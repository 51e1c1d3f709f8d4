#include "analysis/output_impedance.hpp"

#include "analysis/rig_part.hpp"
#include "analysis/tone_figure.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

namespace afterload::analysis {

namespace {

using Kind = BudgetLine::Kind;

constexpr double least_load_ratio = 1.5;
constexpr double one_tone = 0.005;

double siemens(const std::optional<Ohms>& load) {
    return load ? 1.0 / load->in<Ohms>() : 0.0;
}

std::string why_not(const LoadPair& records) {
    const ToneRecord& loaded = records.loaded;
    const ToneRecord& lighter = records.lighter;
    if (!loaded.bench.load || !(loaded.bench.load->in<Ohms>() > 0.0)) {
        return "no load is known: state it in the bench file or with the capture";
    }
    if (lighter.bench.load && !(*lighter.bench.load >= least_load_ratio * *loaded.bench.load)) {
        return fmt::format(
            "the loads, {:.4g} and {:.4g} ohm, are too near to each other: take the "
            "second record with the load off",
            loaded.bench.load->in<Ohms>(), lighter.bench.load->in<Ohms>());
    }
    if (buried(loaded.fit) || buried(lighter.fit)) {
        return "no tone stands out of the noise in one of the two records: drive more";
    }
    const double apart = lighter.fit.fundamental.frequency / loaded.fit.fundamental.frequency - 1.0;
    if (!(std::abs(apart) <= one_tone)) {
        return fmt::format(
            "the two records hold different tones, {:.5g} and {:.5g} Hz: play the "
            "same one twice",
            loaded.fit.fundamental.frequency.in<Hertz>(),
            lighter.fit.fundamental.frequency.in<Hertz>());
    }
    return "";
}

void add_load(Budget& budget, const BenchShare& bench, double ohms_a_relative_change) {
    add_line(budget, Kind::systematic, bench.load_source, "load",
             ohms_a_relative_change * bench.load_u_k1);
    add_line(budget, Kind::bound,
             bench.load_source.empty() ? "" : bench.load_source + ", its own heat",
             "load, its own heat", ohms_a_relative_change * bench.load_heat_u_k1);
}

}  // namespace

Figure output_impedance(const LoadPair& records) {
    const ToneRecord& loaded = records.loaded;
    const ToneRecord& lighter = records.lighter;
    Figure figure = begin(FigureKind::output_impedance, loaded);
    if (std::string why = why_not(records); !why.empty()) {
        return without_value(std::move(figure), std::move(why));
    }
    // With the ratio r = U1/U2 and conductances: Z = (r - 1) / (G2 - r G1).
    const double ratio = lighter.fit.fundamental.amplitude / loaded.fit.fundamental.amplitude;
    const double heavy = siemens(loaded.bench.load);
    const double light = siemens(lighter.bench.load);
    const double current = heavy - ratio * light;
    if (!(current > 0.0)) {
        return without_value(std::move(figure),
                             "the heavier load drew no more current than the lighter one: check "
                             "which load was connected in which record");
    }
    const double ohms = (ratio - 1.0) / current;
    const double ohms_a_ratio = ratio * (heavy - light) / (current * current);
    const double noise = std::hypot(relative_noise(loaded.fit), relative_noise(lighter.fit));
    add_line(figure.budget, Kind::noise, record_noise, "", ohms_a_ratio * noise);
    add_line(figure.budget, Kind::systematic, records.ratio_source, "gain between the two records",
             ohms_a_ratio * records.ratio_u_k1);
    add_load(figure.budget, loaded.bench, std::abs(ohms) * heavy / current);
    add_load(figure.budget, lighter.bench, std::abs(ohms) * ratio * light / current);
    figure.conditions.load = loaded.bench.load;
    const double reach = expanded(figure.budget);
    if (ohms < -2.0 * reach) {
        return without_value(std::move(figure),
                             "the voltage rose under load by more than the uncertainty explains: "
                             "gain or drive moved between the records; take them again, in turns");
    }

    figure.value = ohms;
    double added = 0.0;
    if (loaded.bench.present) {
        added = records.shared_lead.in<Ohms>();
        figure.rig_added = std::clamp(ohms, 0.0, added);
        figure.rig_cancelled = 0.0;  // a lead only adds
    }
    if (ohms <= reach + added) {
        figure.bound = Bound{std::max(ohms, 0.0) + reach, Bound::Side::at_most};
        figure.details.emplace_back("reading", ohms);
        figure.value.reset();
    }
    return figure;
}

Figure damping_factor(const Figure& output_impedance, Ohms nominal) {
    Figure figure = output_impedance;
    figure.kind = FigureKind::damping_factor;
    figure.conditions.load = nominal;
    figure.details.clear();
    figure.budget.clear();
    if (!output_impedance.unresolved.empty()) {
        return figure;
    }
    const double load = nominal.in<Ohms>();
    if (!(load > 0.0)) {
        return without_value(std::move(figure), "a damping factor needs the load it refers to");
    }
    if (output_impedance.bound && !output_impedance.value) {
        const double most = output_impedance.bound->value;
        if (!(most > 0.0)) {
            return without_value(std::move(figure),
                                 "nothing bounds the output impedance: state what the ratio of the "
                                 "two voltages is worth");
        }
        figure.bound = Bound{load / most, Bound::Side::at_least};
        figure.rig_added.reset();  // all of the reading may be the lead: that has no number here
        return figure;
    }
    if (!output_impedance.value || !(*output_impedance.value > 0.0)) {
        return without_value(std::move(figure), "there is no output impedance to refer to");
    }
    const double ohms = *output_impedance.value;
    figure.value = load / ohms;
    for (BudgetLine line : output_impedance.budget) {
        line.u_k1 *= load / (ohms * ohms);
        figure.budget.push_back(std::move(line));
    }
    if (output_impedance.rig_added) {
        figure.rig_added = load / (ohms - *output_impedance.rig_added) - load / ohms;
    }
    return figure;
}

}  // namespace afterload::analysis
