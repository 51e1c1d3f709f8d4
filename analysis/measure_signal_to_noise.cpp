#include "analysis/measure_signal_to_noise.hpp"

#include "analysis/level.hpp"
#include "analysis/rig_part.hpp"
#include "analysis/scale.hpp"
#include "analysis/tone_figure.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <string>
#include <utility>

namespace afterload::analysis {

namespace {

// Of a bound, the reading is kept in the details.
double reading_of(const Figure& figure) {
    double reading = figure.value.value_or(0.0);
    for (const auto& [name, value] : figure.details) {
        reading = !figure.value && name == "reading" ? value : reading;
    }
    return reading;
}

// Why the noise under `wanted` is not the noise that was measured; empty where it is.
template <class Value, class Text>
void note_difference(std::string& why, const char* what, const std::optional<Value>& measured,
                     const std::optional<Value>& wanted, const Text& text) {
    if (!wanted || measured == wanted || !why.empty()) {
        return;
    }
    why = measured ? fmt::format("{} was {} and is wanted {}", what, text(*measured), text(*wanted))
                   : fmt::format("{} is wanted {} and was not stated", what, text(*wanted));
}

std::string noise_differs(const Conditions& measured, const Conditions& wanted) {
    std::string why;
    const auto as_it_is = [](const std::string& words) { return words; };
    const auto named = [](auto value) { return std::string{name(value)}; };
    const auto edges = [](const Band& band) {
        return fmt::format("{:g} Hz to {:g} Hz", band.low.in<Hertz>(), band.high.in<Hertz>());
    };
    note_difference(why, "the weighting", measured.weighting, wanted.weighting, named);
    note_difference(why, "the detector", measured.detector, wanted.detector, named);
    note_difference(why, "the bandwidth", measured.bandwidth, wanted.bandwidth, edges);
    note_difference(why, "the volume control", measured.volume, wanted.volume, as_it_is);
    note_difference(why, "the input's termination", measured.termination, wanted.termination,
                    as_it_is);
    note_difference(why, "the input", measured.input, wanted.input, as_it_is);
    note_difference(why, "the output", measured.output, wanted.output, as_it_is);
    note_difference(why, "the tone controls", measured.tone_controls, wanted.tone_controls,
                    as_it_is);
    return why;
}

// Of a ratio, both parts in decibels: what moves them alike moves the ratio by the difference.
Budget ratio_budget(const Budget& noise, const Budget& reference) {
    Budget both = reference;
    for (const BudgetLine& line : noise) {
        const auto shared = std::find_if(both.begin(), both.end(), [&](const BudgetLine& other) {
            return line.kind == BudgetLine::Kind::systematic && other.kind == line.kind &&
                   other.source == line.source;
        });
        if (shared == both.end()) {
            both.push_back(line);
        } else {
            shared->u_k1 = std::abs(shared->u_k1 - line.u_k1);
        }
    }
    return both;
}

std::optional<double> detail_of(const Figure& figure, std::string_view wanted) {
    for (const auto& [name, value] : figure.details) {
        if (name == wanted) {
            return value;
        }
    }
    return std::nullopt;
}

}  // namespace

Expected<SignalReference> signal_reference(const LevelTarget& level, std::optional<Ohms> load,
                                           std::optional<Watts> rated,
                                           std::optional<AmplitudeRatio> gain) {
    using Kind = LevelTarget::Kind;
    const auto cannot = [&](const char* why) {
        return tl::unexpected(
            FigureFailure{FigureFailure::Kind::out_of_range,
                          fmt::format("{} is no reference here: {}", text(level), why)});
    };
    switch (level.kind) {
        case Kind::output_volts:
            return SignalReference{level, VoltsRms{level.value}};
        case Kind::output_power:
            if (!load) {
                return cannot("state the load");
            }
            return SignalReference{level, voltage_for(Watts{level.value}, *load)};
        case Kind::rated_fraction:
            if (!load || !rated) {
                return cannot("state the rated power and its load");
            }
            return SignalReference{level, voltage_for(level.value * *rated, *load)};
        case Kind::drive_volts:
            if (!gain) {
                return cannot("measure the gain from that input to the output first");
            }
            return SignalReference{level, VoltsRms{level.value * gain->in<AmplitudeRatio>()}};
        case Kind::drive_dbfs:
            return cannot("a level of the card says nothing of the unit; state volts");
    }
    return cannot("it is of no known kind");
}

Figure signal_to_noise(const Figure& noise, VoltsRms reference) {
    const LevelTarget level = noise.conditions.reference_level.value_or(
        LevelTarget{LevelTarget::Kind::output_volts, reference.in<VoltsRms>()});
    return signal_to_noise(noise, SignalReference{level, reference});
}

Figure signal_to_noise(const Figure& noise, const SignalReference& to) {
    Figure figure;
    figure.kind = FigureKind::signal_to_noise;
    figure.channel = noise.channel;
    figure.conditions = noise.conditions;
    figure.conditions.reference_level = to.level;
    if (!noise.unresolved.empty() || (!noise.value && !noise.bound)) {
        return without_value(std::move(figure), noise.unresolved);
    }
    const double volts = to.at_output.in<VoltsRms>();
    const double reading = reading_of(noise);
    if (!(reading > 0.0) || !(volts > 0.0)) {
        return without_value(std::move(figure),
                             "there is no noise at all to refer to: check that "
                             "the channel is connected");
    }
    figure.value = unscored(figure.kind, reading / volts);
    figure.details.emplace_back("reference", volts);
    Budget of_noise = noise.budget;
    for (BudgetLine& line : of_noise) {
        line.u_k1 *= decibels_a_neper / reading;
    }
    figure.budget = ratio_budget(of_noise, to.budget);
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

Figure converted(const Figure& ratio, const SignalReference& to, const Conditions& wanted) {
    Figure figure = ratio;
    figure.conditions.reference_level = to.level;
    if (!ratio.unresolved.empty()) {
        return figure;
    }
    const auto refused = [&](std::string why) {
        Figure none;
        none.kind = ratio.kind;
        none.channel = ratio.channel;
        none.conditions = ratio.conditions;
        none.conditions.reference_level = to.level;
        return without_value(std::move(none), std::move(why));
    };
    const std::optional<double> from = detail_of(ratio, "reference");
    const double volts = to.at_output.in<VoltsRms>();
    if (!from || !(*from > 0.0) || !(volts > 0.0)) {
        return refused("the volts behind one of the references are not known");
    }
    if (const std::string why = noise_differs(ratio.conditions, wanted); !why.empty()) {
        return refused(
            fmt::format("{}: the noise itself changes with it, so no number converts "
                        "one into the other; measure it so",
                        why));
    }
    const double change = gain_of(AmplitudeRatio{volts / *from}).decibels();
    if (figure.value) {
        *figure.value += change;
    }
    if (figure.bound) {
        figure.bound->value += change;
    }
    for (auto& [name, value] : figure.details) {
        if (name == "reference") {
            value = volts;
        } else if (name == "reading") {
            value += change;
        }
    }
    figure.details.emplace_back("converted_from", *from);
    figure.details.emplace_back("conversion", change);
    return figure;
}

}  // namespace afterload::analysis
