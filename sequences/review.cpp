#include "sequences/review.hpp"

#include "analysis/level.hpp"
#include "sequences/combinations.hpp"
#include "sequences/players.hpp"
#include "sequences/quantity_text.hpp"
#include "sequences/soak.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <utility>

namespace afterload::sequences {

namespace {

constexpr double usual_crest = 4.0;  // peak over rms of noise that is soaked with
constexpr Watts as_received_most{1.0};
constexpr double rounding = 1e-9;

bool fits_load(const RatedFigure& rated, Ohms load) {
    return !rated.conditions.load || same_load(*rated.conditions.load, load);
}

std::string watts(Watts power) {
    return quantity_text(std::round(power.in<Watts>() * 1e4) / 1e4, Dimension::watts);
}

std::string ohms(Ohms load) {
    return quantity_text(load.in<Ohms>(), Dimension::ohms);
}

std::string peak(VoltsPeak voltage) {
    return quantity_text(std::round(voltage.in<VoltsPeak>() * 1e3) / 1e3, Dimension::volts_peak);
}

std::string joined(const std::vector<std::string>& words) {
    std::string out;
    for (const std::string& word : words) {
        out += out.empty() ? word : ", " + word;
    }
    return out;
}

}  // namespace

tl::expected<RatedPower, NoRatedPower> rated_power(const RatingSheet& sheet, Ohms load,
                                                   Channels driven) {
    std::vector<const RatedFigure*> powers;
    for (const RatedFigure& rated : sheet.figures) {
        if (rated.figure == FigureKind::output_power && rated.limit.at_least &&
            fits_load(rated, load)) {
            powers.push_back(&rated);
        }
    }
    const auto keep = [&powers](auto&& wanted) {
        std::vector<const RatedFigure*> kept;
        std::copy_if(powers.begin(), powers.end(), std::back_inserter(kept),
                     [&](const RatedFigure* rated) { return wanted(*rated); });
        return kept;
    };
    std::vector<const RatedFigure*> fitting = keep([driven](const RatedFigure& rated) {
        return !rated.conditions.channels_driven || *rated.conditions.channels_driven == driven;
    });
    if (fitting.empty() && driven != Channels::both) {
        fitting = keep([](const RatedFigure& rated) {
            return rated.conditions.channels_driven == Channels::both;
        });
    }
    const bool any_states_load =
        std::any_of(fitting.begin(), fitting.end(),
                    [](const RatedFigure* rated) { return rated->conditions.load.has_value(); });
    if (any_states_load) {
        std::erase_if(fitting, [](const RatedFigure* rated) { return !rated->conditions.load; });
    }
    NoRatedPower none;
    if (fitting.empty()) {
        none.why = NoRatedPower::Why::none_fits;
        none.what = fmt::format("no power rating of the sheet fits {} with {} driven", ohms(load),
                                name(driven));
        return tl::unexpected(none);
    }
    const double first = *fitting.front()->limit.at_least;
    const bool alike =
        std::all_of(fitting.begin(), fitting.end(), [first](const RatedFigure* rated) {
            return std::abs(*rated->limit.at_least - first) <= rounding * first;
        });
    if (!alike) {
        none.why = NoRatedPower::Why::several_fit;
        std::vector<std::string> shown;
        for (const RatedFigure* rated : fitting) {
            none.ids.push_back(rated->id);
            shown.push_back(
                fmt::format("{} ({})", rated->id, watts(Watts{*rated->limit.at_least})));
        }
        none.what = fmt::format("{} power ratings fit {} with {} driven: {}", fitting.size(),
                                ohms(load), name(driven), joined(shown));
        return tl::unexpected(none);
    }
    return RatedPower{Watts{first}, fitting.front()->id, fitting.front()->conditions.thd};
}

Ohms load_on(const BenchFile& bench, std::optional<Ohms> asked) {
    constexpr Ohms usual{8.0};
    const Ohms kind = asked ? *asked : bench.loads.empty() ? usual : bench.loads.front().resistance;
    std::optional<Ohms> least;
    for (const LoadEntry& load : bench.loads) {
        if (same_load(load.resistance, kind) && (!least || load.resistance < *least)) {
            least = load.resistance;
        }
    }
    return least.value_or(kind);
}

std::optional<VoltsRms> output_asked(const StepLevel& level, Ohms load, Watts rated) {
    const LevelTarget& target = std::holds_alternative<LevelTarget>(level)
                                    ? std::get<LevelTarget>(level)
                                    : std::get<DistortionLimited>(level).up_to;
    switch (target.kind) {
        case LevelTarget::Kind::output_power:
            return voltage_for(Watts{target.value}, load);
        case LevelTarget::Kind::rated_fraction:
            return voltage_for(target.value * rated, load);
        case LevelTarget::Kind::output_volts:
            return VoltsRms{target.value};
        case LevelTarget::Kind::drive_volts:
        case LevelTarget::Kind::drive_dbfs:
            return std::nullopt;
    }
    return std::nullopt;
}

namespace {

// One sheet, bench and sequence held against each other.
class Review {
public:
    Review(const RatingSheet& sheet, const BenchFile& bench, const Sequence& sequence,
           const ReviewSettings& settings)
        : sheet_{sheet},
          bench_{bench},
          sequence_{sequence},
          settings_{settings},
          source_{sequence.text} {
        found_.path = sequence.path;
    }

    Diagnostics done() {
        check_needs();
        for (const Step& step : sequence_.steps) {
            check_step(step);
        }
        found_.sort();
        return std::move(found_);
    }

private:
    // What one combination of a step asks of the output.
    struct Asked {
        StepLevel level;
        Channels driven = Channels::both;
        std::string_view key;  ///< where the level stands
    };

    void check_step(const Step& step) {
        check_names(step);
        check_meters(step);
        check_figures(step);
        const std::vector<Step> into = into_each_load(step);
        for (const Step& one : into) {
            check_load_is_there(one);
        }
        if (step.signal) {
            check_bridged(step);
            check_open_output(step);
            check_generator(step);
        }
        if (step.signal == Signal::tone) {
            for (const Step& one : into) {
                check_tone(one);
            }
        } else {
            heat_ = {};
        }
        if (step.soak) {
            check_soak(step, *step.soak);
        }
    }

    // A soak loads the bench as a tone of its level does that is held for so long; what is not a
    // sine has peaks beside.
    void check_soak(const Step& step, const Soak& soak) {
        Step held = step;
        held.soak = nullptr;
        held.signal = Signal::tone;
        held.frequency = soak.frequency;
        held.level = soak.level;
        held.dwell = soak.duration;
        for (const auto& [key, place] : soak.places) {
            held.places[key] = place;
        }
        check_bridged(held);
        if (soak.signal != SoakSignal::sine && !bench_.source.instrument.empty()) {
            report(place_of(held, "signal"),
                   fmt::format("the source is the generator “{}”, which plays one sine",
                               bench_.source.instrument),
                   "write signal: sine, or let the card play");
        }
        check_generator(held);
        check_tone(held);
        if (soak.signal != SoakSignal::sine) {
            check_soak_peaks(held, soak);
        }
        for (const Remeasured& again : soak.remeasure) {
            std::for_each(again.steps.begin(), again.steps.end(),
                          [&](const Step& nested) { check_step(nested); });
        }
    }

    void check_soak_peaks(const Step& held, const Soak& soak) {
        const auto rated = rated_power(sheet_, load_of(held), held.driven);
        const Watts meant = rated ? rated->power : Watts{0.0};
        const auto volts = output_asked(soak.level, load_of(held), meant);
        if (volts && (rated || !speaks_of_rated(soak.level))) {
            check_range(held, place_of(held, "level"), (usual_crest / std::sqrt(2.0)) * *volts);
        }
    }

    static Place place_of(const Step& step, std::string_view key) {
        const auto found = step.places.find(key);
        return found == step.places.end() ? step.place : found->second;
    }

    void report(Place place, std::string what, std::string advice) {
        const bool known = std::any_of(
            found_.mistakes.begin(), found_.mistakes.end(),
            [&](const Mistake& mistake) { return mistake.place == place && mistake.what == what; });
        if (!known) {
            found_.add(source_.mistake(place, 1, std::move(what), std::move(advice), place.line));
        }
    }

    void check_needs() {
        for (std::size_t i = 0; i < sequence_.needs_rated.size(); ++i) {
            const FigureKind kind = sequence_.needs_rated[i];
            const bool there =
                std::any_of(sheet_.figures.begin(), sheet_.figures.end(),
                            [kind](const RatedFigure& rated) { return rated.figure == kind; });
            if (!there) {
                const Place place =
                    i < sequence_.needs_places.size() ? sequence_.needs_places[i] : Place{1, 1};
                report(place, fmt::format("the rating sheet has no {}", name(kind)),
                       "add it to the sheet, or run a sequence that does not need it");
            }
        }
    }

    void check_rated_id(const std::optional<std::string>& id, Place place) {
        if (!id) {
            return;
        }
        std::vector<std::string_view> known;
        for (const RatedFigure& rated : sheet_.figures) {
            known.push_back(rated.id);
        }
        if (std::find(known.begin(), known.end(), *id) == known.end()) {
            const std::string_view near = nearest(*id, known);
            report(place, fmt::format("the rating sheet has no rated figure “{}”", *id),
                   near.empty() ? "" : fmt::format("nearest: {}", near));
        }
    }

    void check_names(const Step& step) {
        if (sheet_.unit) {
            check_connection(step, step.input, "input", sheet_.unit->inputs);
            check_connection(step, step.output, "output", sheet_.unit->outputs);
        }
        if (step.range && range_named(*step.range) == nullptr) {
            std::vector<std::string_view> known;
            std::vector<std::string> shown;
            for (const RangeEntry& range : bench_.ranges) {
                known.push_back(range.name);
                shown.push_back(range.name);
            }
            const std::string_view near = nearest(*step.range, known);
            report(place_of(step, "range"),
                   fmt::format("the bench has no range “{}”", escaped(*step.range)),
                   near.empty() ? fmt::format("it has {}", joined(shown))
                                : fmt::format("nearest: {}", near));
        }
    }

    void check_load_is_there(const Step& step) {
        const bool there =
            !step.load ||
            std::any_of(bench_.loads.begin(), bench_.loads.end(), [&](const LoadEntry& entry) {
                return same_load(entry.resistance, *step.load);
            });
        if (!there) {
            report(place_of(step, "load"),
                   fmt::format("the bench has no load of {}", ohms(*step.load)),
                   "connect it and add it to the bench file");
        }
    }

    /// The step once for each load that it is repeated into.
    [[nodiscard]] static std::vector<Step> into_each_load(const Step& step) {
        std::vector<Step> all;
        for (const std::optional<Ohms>& load : step.for_each.loads) {
            if (load) {
                Step one = step;
                one.load = load;
                one.places["load"] = place_of(step, "for_each");
                all.push_back(std::move(one));
            }
        }
        if (all.empty()) {
            all.push_back(step);
        }
        return all;
    }

    void check_connection(const Step& step, const std::optional<std::string>& wanted,
                          std::string_view key, const std::vector<std::string>& there) {
        if (!wanted || std::find(there.begin(), there.end(), *wanted) != there.end()) {
            return;
        }
        const std::vector<std::string_view> known{there.begin(), there.end()};
        const std::string_view near = nearest(*wanted, known);
        report(place_of(step, key), fmt::format("the unit has no {} “{}”", key, escaped(*wanted)),
               near.empty() ? fmt::format("it has {}", joined(there))
                            : fmt::format("nearest: {}", near));
    }

    void check_meters(const Step& step) {
        for (const MeterRequest& meter : step.meters) {
            check_rated_id(meter.rated, meter.place);
        }
    }

    void check_figures(const Step& step) {
        for (const FigureRequest& request : step.figures) {
            check_rated_id(request.rated, request.place);
            if (request.reference_level &&
                request.reference_level->kind == LevelTarget::Kind::rated_fraction) {
                const auto rated = rated_power(sheet_, load_of(step), Channels::both);
                if (!rated) {
                    report(request.place,
                           fmt::format("“rated” has no meaning here: {}", rated.error().what),
                           "write the reference level in W");
                }
            }
        }
    }

    /// Where the generator is the only source, it must be able to play the step.
    void check_generator(const Step& step) {
        if (bench_.source.instrument.empty()) {
            return;
        }
        if (auto needs = needs_card(step, bench_.source.instrument)) {
            report(needs->place, std::move(needs->what), std::move(needs->advice));
        }
    }

    void check_bridged(const Step& step) {
        if (sheet_.unit && sheet_.unit->bridged && bench_.sense_grounded) {
            report(
                place_of(step, "signal"),
                "the unit's outputs are bridged and the bench's sense is grounded: one side would "
                "be shorted",
                "use a floating sense, and say sense: floating in the bench file");
        }
    }

    void check_open_output(const Step& step) {
        const std::vector<Combination> all = combinations(step);
        const bool open = std::any_of(all.begin(), all.end(), [](const Combination& combination) {
            return combination.open;
        });
        if (open && sheet_.unit && sheet_.unit->output_transformer) {
            report(place_of(step, "for_each"),
                   "the unit has an output transformer, which must not be driven without its load",
                   "take open out of loads: two loads, as 8 ohm and 4 ohm, give the output "
                   "impedance too");
        }
        const bool lets_go = bench_.simulated || bench_.loads.empty() ||
                             std::any_of(bench_.loads.begin(), bench_.loads.end(), is_switched);
        if (open && !lets_go) {
            report(
                place_of(step, "for_each"),
                "nothing lets go of the bench's loads: the open output would be read with its "
                "load on",
                "give the loads a relay in the bench file, or take two loads, as 8 ohm and 4 ohm");
        }
    }

    [[nodiscard]] Ohms load_of(const Step& step) const { return load_on(bench_, step.load); }

    [[nodiscard]] const RangeEntry* range_named(std::string_view name) const {
        for (const RangeEntry& range : bench_.ranges) {
            if (range.name == name) {
                return &range;
            }
        }
        return nullptr;
    }

    [[nodiscard]] static std::vector<Asked> all_asked(const Step& step) {
        std::vector<Asked> all;
        std::vector<Channels> channels = step.for_each.channels;
        if (channels.empty()) {
            channels.push_back(step.driven);
        }
        for (const Channels driven : channels) {
            for (const LevelTarget& level : step.for_each.levels) {
                all.push_back({level, driven, "for_each"});
            }
            if (step.for_each.levels.empty() && step.level) {
                all.push_back({*step.level, driven, "level"});
            }
        }
        return all;
    }

    void check_tone(const Step& step) {
        check_frequencies(step);
        const double times =
            static_cast<double>(std::max<std::size_t>(1, step.for_each.frequencies.size()));
        const Seconds each = step.settle + step.record + step.dwell;
        for (const Asked& asked : all_asked(step)) {
            check_drive(step, asked);
            check_distortion(step, asked);
            const Place place = place_of(step, asked.key);
            Watts rated{0.0};
            if (speaks_of_rated(asked.level)) {
                const auto found = rated_power(sheet_, load_of(step), asked.driven);
                if (!found) {
                    report(place,
                           fmt::format("“rated” has no meaning here: {}", found.error().what),
                           found.error().why == NoRatedPower::Why::none_fits
                               ? "add the rating to the sheet, or write the level in W"
                               : "write the level in W");
                    continue;
                }
                rated = found->power;
            }
            const auto volts = output_asked(asked.level, load_of(step), rated);
            if (volts) {
                check_output(step, place, *volts);
                check_range(step, place, *volts);
                check_loads(step, asked, place, *volts, times * each);
            }
        }
    }

    static bool speaks_of_rated(const StepLevel& level) {
        const LevelTarget& target = std::holds_alternative<LevelTarget>(level)
                                        ? std::get<LevelTarget>(level)
                                        : std::get<DistortionLimited>(level).up_to;
        return target.kind == LevelTarget::Kind::rated_fraction;
    }

    void check_frequencies(const Step& step) {
        const Hertz nyquist = bench_.card.rate.nyquist();
        const auto check = [&](Hertz frequency, std::string_view key) {
            if (frequency >= nyquist) {
                report(place_of(step, key),
                       fmt::format("{} is at or above half of the card's rate",
                                   quantity_text(frequency.in<Hertz>(), Dimension::hertz)),
                       fmt::format("stay below {}",
                                   quantity_text(nyquist.in<Hertz>(), Dimension::hertz)));
            }
        };
        if (step.frequency) {
            check(*step.frequency, "frequency");
        }
        for (const Hertz frequency : step.for_each.frequencies) {
            check(frequency, "for_each");
        }
    }

    void check_drive(const Step& step, const Asked& asked) {
        if (!std::holds_alternative<LevelTarget>(asked.level)) {
            return;
        }
        const LevelTarget& target = std::get<LevelTarget>(asked.level);
        const SourceEntry& source = source_of(bench_, step);
        VoltsRms drive;
        if (target.kind == LevelTarget::Kind::drive_volts) {
            drive = VoltsRms{target.value};
        } else if (target.kind == LevelTarget::Kind::drive_dbfs) {
            drive = voltage_at(DbFs{target.value}, peak_of_sine(source.full_scale));
        } else {
            return;
        }
        VoltsRms most = source.full_scale;
        std::string_view whose = "the source gives";
        if (bench_.limits.largest_drive && *bench_.limits.largest_drive < most) {
            most = *bench_.limits.largest_drive;
            whose = "the house allows";
        }
        if (drive > (1.0 + rounding) * most) {
            report(place_of(step, asked.key),
                   fmt::format("a drive of {} is asked for; {} at most {}",
                               quantity_text(drive.in<VoltsRms>(), Dimension::volts), whose,
                               quantity_text(most.in<VoltsRms>(), Dimension::volts)),
                   "ask for less");
        }
    }

    void check_distortion(const Step& step, const Asked& asked) {
        if (!std::holds_alternative<DistortionLimited>(asked.level) ||
            std::get<DistortionLimited>(asked.level).thd) {
            return;
        }
        const auto rated = rated_power(sheet_, load_of(step), asked.driven);
        const bool other = std::any_of(
            sheet_.figures.begin(), sheet_.figures.end(), [](const RatedFigure& figure) {
                return figure.figure == FigureKind::thd && figure.limit.at_most &&
                       figure.conditions.output_level &&
                       *figure.conditions.output_level == LevelTarget{};
            });
        if (rated && !rated->thd && !other) {
            report(place_of(step, asked.key),
                   fmt::format("the power rating {} states no distortion", rated->id),
                   "write distortion: 1 %, or add thd: to the rating");
        }
    }

    void check_output(const Step& step, Place place, VoltsRms volts) {
        const Watts power = dissipated(volts, load_of(step));
        if (bench_.limits.largest_output &&
            power > (1.0 + rounding) * *bench_.limits.largest_output) {
            report(place,
                   fmt::format("{} a channel is asked for; the house allows at most {}",
                               watts(power), watts(*bench_.limits.largest_output)),
                   "ask for less, or change limits: in the bench file");
        }
        if (settings_.stage == "as_received" && !settings_.power_as_received &&
            power > (1.0 + rounding) * as_received_most) {
            report(place,
                   fmt::format("{} is asked for of a unit as received: {} is the most",
                               watts(power), watts(as_received_most)),
                   "run the quick check first");
        }
    }

    void check_range(const Step& step, Place place, VoltsRms volts) {
        const VoltsPeak asked = peak_of_sine(volts);
        const auto bears = [asked](const RangeEntry& range) {
            return asked <= range.safe && asked <= range.full_scale;
        };
        if (!step.range) {
            if (!bench_.ranges.empty() &&
                std::none_of(bench_.ranges.begin(), bench_.ranges.end(), bears)) {
                report(place,
                       fmt::format("{} is asked for; no range of the bench takes it", peak(asked)),
                       "ask for less, or add a range");
            }
            return;
        }
        const RangeEntry* const range = range_named(*step.range);
        if (range == nullptr || bears(*range)) {
            return;
        }
        const bool unsafe = asked > range->safe;
        std::string advice = "ask for less";
        for (const RangeEntry& other : bench_.ranges) {
            if (bears(other)) {
                advice = fmt::format("take range: {}, or ask for less", other.name);
            }
        }
        report(place_of(step, "range"),
               fmt::format("{} is asked for; range {} {} {}", peak(asked), range->name,
                           unsafe ? "is safe up to" : "ends at",
                           peak(unsafe ? range->safe : range->full_scale)),
               std::move(advice));
    }

    void check_loads(const Step& step, const Asked& asked, Place place, VoltsRms volts,
                     Seconds time) {
        const auto meant = [&](const LoadEntry& entry, Channels channel) {
            return (entry.channel == channel || entry.channel == Channels::both) &&
                   same_load(entry.resistance, load_of(step));
        };
        constexpr std::array sides{Channels::left, Channels::right};
        std::array<const LoadEntry*, 2> loads{};
        for (std::size_t i = 0; i < sides.size(); ++i) {
            const auto entry =
                std::find_if(bench_.loads.begin(), bench_.loads.end(),
                             [&](const LoadEntry& each) { return meant(each, sides[i]); });
            loads[i] = entry == bench_.loads.end() ? nullptr : &*entry;
        }
        // Two loads of one kind are spoken of once.
        const bool alike = asked.driven == Channels::both && loads[0] != nullptr &&
                           loads[1] != nullptr && bears_the_same(*loads[0], *loads[1]) &&
                           heat_[0] == heat_[1];
        for (std::size_t i = 0; i < sides.size(); ++i) {
            if (asked.driven != Channels::both && asked.driven != sides[i]) {
                heat_[i] = Seconds{0.0};
            } else if (alike && i == 1) {
                heat_[1] = heat_[0];
            } else if (loads[i] != nullptr) {
                const std::string which =
                    alike ? "each load" : fmt::format("the {} load", name(sides[i]));
                check_load(*loads[i], which, place, dissipated(volts, loads[i]->resistance), time,
                           heat_[i]);
            } else if (!step.load || loads[0] != loads[1]) {
                report(place,
                       fmt::format("no load of {} is connected to {}", ohms(load_of(step)),
                                   name(sides[i])),
                       "connect it and add it to the bench file");
            }
        }
    }

    static bool bears_the_same(const LoadEntry& a, const LoadEntry& b) {
        return a.resistance == b.resistance && a.continuous == b.continuous &&
               a.short_term == b.short_term && a.short_time == b.short_time;
    }

    void check_load(const LoadEntry& load, std::string_view which, Place place, Watts power,
                    Seconds time, Seconds& above) {
        if (power <= (1.0 + rounding) * load.continuous) {
            above = Seconds{0.0};
            return;
        }
        above += time;
        if (!load.short_term || !load.short_time) {
            report(place,
                   fmt::format("{} into {}, which takes {}", watts(power), which,
                               watts(load.continuous)),
                   "ask for less, or connect a larger load");
        } else if (power > (1.0 + rounding) * *load.short_term) {
            report(place,
                   fmt::format("{} into {}, which takes {} for a short time", watts(power), which,
                               watts(*load.short_term)),
                   "ask for less, or connect a larger load");
        } else if (above > *load.short_time) {
            report(place,
                   fmt::format("{} for {} into {}, which takes {} for {}", watts(power),
                               quantity_text(std::round(above.in<Seconds>() * 10.0) / 10.0,
                                             Dimension::seconds),
                               which, watts(*load.short_term),
                               quantity_text(load.short_time->in<Seconds>(), Dimension::seconds)),
                   "shorten the dwell or the record, or ask for less");
        }
    }

    const RatingSheet& sheet_;
    const BenchFile& bench_;
    const Sequence& sequence_;
    ReviewSettings settings_;
    SourceText source_;
    Diagnostics found_;
    std::array<Seconds, 2> heat_;  ///< how long each load has borne more than it takes for ever
};

}  // namespace

Diagnostics review(const RatingSheet& sheet, const BenchFile& bench, const Sequence& sequence,
                   const ReviewSettings& settings) {
    return Review{sheet, bench, sequence, settings}.done();
}

}  // namespace afterload::sequences
