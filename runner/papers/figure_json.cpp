#include "runner/papers/figure_json.hpp"

#include "runner/papers/json_quantity.hpp"

#include <fmt/format.h>

#include <array>
#include <cmath>
#include <limits>
#include <string>
#include <utility>

namespace afterload::runner {

namespace {

constexpr double nan = std::numeric_limits<double>::quiet_NaN();

constexpr std::array<std::pair<LevelTarget::Kind, std::string_view>, 5> level_kinds{
    {{LevelTarget::Kind::drive_volts, "drive_volts"},
     {LevelTarget::Kind::drive_dbfs, "drive_dbfs"},
     {LevelTarget::Kind::output_power, "output_power"},
     {LevelTarget::Kind::output_volts, "output_volts"},
     {LevelTarget::Kind::rated_fraction, "rated_fraction"}}};

constexpr std::array budget_kinds{BudgetLine::Kind::noise, BudgetLine::Kind::systematic,
                                  BudgetLine::Kind::bound};

template <class All>
std::optional<typename All::value_type> named(const All& all, std::string_view wanted) {
    for (const auto value : all) {
        if (name(value) == wanted) {
            return value;
        }
    }
    return std::nullopt;
}

void put_text(Json& out, const char* key, const std::optional<std::string>& value) {
    if (value) {
        out[key] = *value;
    }
}

void put_band(Json& out, const char* key, const std::optional<Band>& band) {
    if (band) {
        out[key] = Json::array({band->low.in<Hertz>(), band->high.in<Hertz>()});
    }
}

void put_level(Json& out, const char* key, const std::optional<LevelTarget>& level) {
    if (level) {
        out[key] = text(*level);
        out[std::string{key} + "_exact"] = level_json(*level);
    }
}

std::optional<Band> get_band(const JsonPlace& place, std::string_view key) {
    const auto found = place.find(key);
    if (!found) {
        return std::nullopt;
    }
    const std::vector<double> edges = found->numbers();
    if (edges.size() != 2) {
        found->misfit("a band is two numbers: [low, high]");
    }
    return Band{Hertz{edges[0]}, Hertz{edges[1]}};
}

std::optional<LevelTarget> get_level_member(const JsonPlace& place, const std::string& key) {
    if (const auto exact = place.find(key + "_exact")) {
        return get_level(*exact);
    }
    if (const auto words = place.find(key)) {
        words->misfit(fmt::format("\"{}_exact\" is missing beside it", key));
    }
    return std::nullopt;
}

/// Two doubles that went through text and one sum must agree to the last few bits.
bool same(double a, double b) {
    return a == b || std::abs(a - b) <= 1e-9 * std::max(std::abs(a), std::abs(b));
}

Json numbers(const std::vector<double>& values) {
    return Json(values);
}

void put_curve(Json& out, const Curve& curve) {
    Json& json = out["curve"];
    json["frequency_hz"] = numbers(curve.frequency_hz);
    json["value"] = numbers(curve.value);
    json["phase_deg"] = numbers(curve.phase_degrees);
    json["u_k1"] = numbers(curve.u_k1);
}

Curve get_curve(const JsonPlace& place) {
    Curve curve;
    curve.frequency_hz = place.at("frequency_hz").numbers();
    const auto column = [&](std::string_view key, std::vector<double>& into) {
        if (const auto found = place.find(key)) {
            into = found->numbers();
            if (!into.empty() && into.size() != curve.frequency_hz.size()) {
                found->misfit(fmt::format("{} numbers beside {} frequencies", into.size(),
                                          curve.frequency_hz.size()));
            }
        }
    };
    column("value", curve.value);
    column("phase_deg", curve.phase_degrees);
    column("u_k1", curve.u_k1);
    return curve;
}

}  // namespace

std::optional<Channels> channels_named(std::string_view wanted) {
    return named(std::array{Channels::left, Channels::right, Channels::both}, wanted);
}

Json level_json(const LevelTarget& level) {
    Json json;
    for (const auto& [kind, text] : level_kinds) {
        if (kind == level.kind) {
            json["kind"] = text;
        }
    }
    json["value"] = level.value;
    return json;
}

LevelTarget get_level(const JsonPlace& place) {
    LevelTarget level;
    level.kind = named_value(place.at("kind"), [](std::string_view wanted) {
        std::optional<LevelTarget::Kind> found;
        for (const auto& [kind, text] : level_kinds) {
            if (text == wanted) {
                found = kind;
            }
        }
        return found;
    });
    level.value = place.at("value").number();
    return level;
}

Json conditions_json(const Conditions& c) {
    Json out = Json::object();
    put_quantity(out, "load_ohm", c.load);
    if (c.channels_driven) {
        out["channels_driven"] = name(*c.channels_driven);
    }
    put_level(out, "output_level", c.output_level);
    put_quantity(out, "frequency_hz", c.frequency);
    put_band(out, "tone_range_hz", c.tone_range);
    put_band(out, "bandwidth_hz", c.bandwidth);
    if (c.weighting) {
        out["weighting"] = name(*c.weighting);
    }
    if (c.detector) {
        out["detector"] = name(*c.detector);
    }
    put_level(out, "reference_level", c.reference_level);
    put_quantity(out, "reference_hz", c.reference_frequency);
    if (c.highest_order) {
        out["highest_order"] = *c.highest_order;
    }
    if (c.thd) {
        out["thd"] = *c.thd;
    }
    if (c.fall) {
        out["fall_db"] = c.fall->decibels();
    }
    put_text(out, "input", c.input);
    put_text(out, "output", c.output);
    put_text(out, "path", c.path);
    put_quantity(out, "source_impedance_ohm", c.source_impedance);
    put_text(out, "termination", c.termination);
    put_text(out, "volume", c.volume);
    put_text(out, "tone_controls", c.tone_controls);
    put_text(out, "curve", c.curve);
    if (c.mains_voltage) {
        out["mains_voltage_v"] = *c.mains_voltage;
    }
    put_quantity(out, "warm_up_s", c.warm_up);
    put_text(out, "preconditioning", c.preconditioning);
    put_quantity(out, "ambient_degc", c.ambient);
    put_quantity(out, "dwell_s", c.dwell);
    put_text(out, "signal", c.signal);
    return out;
}

Conditions get_conditions(const JsonPlace& place) {
    Conditions c;
    c.load = get_quantity<Ohms>(place, "load_ohm");
    if (const auto driven = place.find("channels_driven")) {
        c.channels_driven = named_value(*driven, channels_named);
    }
    c.output_level = get_level_member(place, "output_level");
    c.frequency = get_quantity<Hertz>(place, "frequency_hz");
    c.tone_range = get_band(place, "tone_range_hz");
    c.bandwidth = get_band(place, "bandwidth_hz");
    if (const auto weighting = place.find("weighting")) {
        c.weighting = named_value(*weighting, [](std::string_view wanted) {
            return named(std::array{Weighting::unweighted, Weighting::a, Weighting::itu_r_468},
                         wanted);
        });
    }
    if (const auto detector = place.find("detector")) {
        c.detector = named_value(*detector, [](std::string_view wanted) {
            return named(std::array{Detector::rms, Detector::quasi_peak}, wanted);
        });
    }
    c.reference_level = get_level_member(place, "reference_level");
    c.reference_frequency = get_quantity<Hertz>(place, "reference_hz");
    if (const auto order = place.find("highest_order")) {
        c.highest_order = order->whole();
    }
    c.thd = place.maybe_number("thd");
    if (const auto fall = place.maybe_number("fall_db")) {
        c.fall = Gain{*fall};
    }
    c.input = place.maybe_text("input");
    c.output = place.maybe_text("output");
    c.path = place.maybe_text("path");
    c.source_impedance = get_quantity<Ohms>(place, "source_impedance_ohm");
    c.termination = place.maybe_text("termination");
    c.volume = place.maybe_text("volume");
    c.tone_controls = place.maybe_text("tone_controls");
    c.curve = place.maybe_text("curve");
    c.mains_voltage = place.maybe_number("mains_voltage_v");
    c.warm_up = get_quantity<Seconds>(place, "warm_up_s");
    c.preconditioning = place.maybe_text("preconditioning");
    c.ambient = get_quantity<Celsius>(place, "ambient_degc");
    c.dwell = get_quantity<Seconds>(place, "dwell_s");
    c.signal = place.maybe_text("signal");
    return c;
}

void put_figure(Json& out, const Figure& figure) {
    out["figure"] = name(figure.kind);
    if (figure.channel != 0) {
        out["channel"] = figure.channel;
    }
    if (figure.pair) {
        out["pair"] = Json::array({figure.pair->first, figure.pair->second});
    }
    if (figure.value) {
        out["value"] = *figure.value;
    } else if (figure.table.empty() && !figure.curve) {
        out["value"] = nullptr;
    }
    if (figure.bound) {
        out["bound"] = figure.bound->value;
        out["bound_is"] = name(figure.bound->side);
    }
    out["unit"] = symbol(unit_of(figure.kind));
    if (!figure.budget.empty()) {
        out["u_k1"] = combined(figure.budget);
        out["u_k2"] = expanded(figure.budget);
    }
    if (figure.rig_added) {
        out["rig_added"] = *figure.rig_added;
    }
    if (figure.rig_cancelled) {
        out["rig_cancelled"] = *figure.rig_cancelled;
    }
    out["conditions"] = conditions_json(figure.conditions);
    if (!figure.assumed.empty()) {
        out["assumed"] = figure.assumed;
    }
    if (!figure.budget.empty()) {
        Json& lines = out["budget"] = Json::array();
        for (const BudgetLine& line : figure.budget) {
            Json entry;
            entry["source"] = line.source;
            entry["kind"] = name(line.kind);
            entry["u_k1"] = line.u_k1;
            entry["dof"] = line.degrees_of_freedom;
            lines.push_back(std::move(entry));
        }
    }
    if (!figure.table.empty()) {
        Json& rows = out["table"] = Json::array();
        for (const HarmonicRow& row : figure.table) {
            Json entry;
            entry["order"] = row.order;
            entry["value"] = row.ratio;
            entry["phase_deg"] = row.phase_degrees;
            entry["u_k1"] = row.u_k1;
            rows.push_back(std::move(entry));
        }
    }
    if (figure.curve) {
        put_curve(out, *figure.curve);
    }
    if (!figure.details.empty()) {
        Json& details = out["details"] = Json::object();
        for (const auto& [key, value] : figure.details) {
            details[key] = value;
        }
    }
    if (!figure.unresolved.empty()) {
        out["unresolved"] = figure.unresolved;
    }
}

Figure get_figure(const JsonPlace& place) {
    Figure figure;
    figure.kind = named_value(place.at("figure"), figure_kind);
    if (const auto channel = place.find("channel")) {
        figure.channel = channel->whole();
    }
    if (const auto pair = place.find("pair")) {
        const std::vector<JsonPlace> ends = pair->items();
        if (ends.size() != 2) {
            pair->misfit("a pair is two channels: [from, to]");
        }
        figure.pair = {ends[0].whole(), ends[1].whole()};
    }
    figure.value = place.maybe_number("value");
    if (const auto unit = place.maybe_text("unit"); unit && *unit != symbol(unit_of(figure.kind))) {
        place.at("unit").misfit(
            fmt::format("\"{}\" is not the unit of {}", *unit, name(figure.kind)));
    }
    if (const auto bound = place.maybe_number("bound")) {
        const std::string side = place.at("bound_is").text();
        if (side != "at_most" && side != "at_least") {
            place.at("bound_is").misfit("at_most or at_least is needed");
        }
        figure.bound =
            Bound{*bound, side == "at_most" ? Bound::Side::at_most : Bound::Side::at_least};
    }
    if (const auto budget = place.find("budget")) {
        for (const JsonPlace& entry : budget->items()) {
            BudgetLine line;
            line.source = entry.at("source").text();
            line.kind = named_value(entry.at("kind"), [](std::string_view wanted) {
                return named(budget_kinds, wanted);
            });
            line.u_k1 = entry.number_or("u_k1", nan);
            line.degrees_of_freedom =
                entry.number_or("dof", std::numeric_limits<double>::infinity());
            figure.budget.push_back(std::move(line));
        }
        const double stated = place.number_or("u_k1", nan);
        const double given = combined(figure.budget);
        if (!same(stated, given) && !(std::isnan(stated) && !std::isfinite(given))) {
            place.misfit(
                fmt::format("u_k1 is {}, its budget gives {}: the file was edited", stated, given));
        }
    }
    figure.rig_added = place.maybe_number("rig_added");
    figure.rig_cancelled = place.maybe_number("rig_cancelled");
    if (const auto conditions = place.find("conditions")) {
        figure.conditions = get_conditions(*conditions);
    }
    if (const auto assumed = place.find("assumed")) {
        figure.assumed = assumed->texts();
    }
    if (const auto table = place.find("table")) {
        for (const JsonPlace& row : table->items()) {
            figure.table.push_back({row.at("order").whole(), row.number_or("value", nan),
                                    row.number_or("phase_deg", nan), row.number_or("u_k1", nan)});
        }
    }
    if (const auto curve = place.find("curve")) {
        figure.curve = get_curve(*curve);
    }
    if (const auto details = place.find("details")) {
        for (const std::string& key : details->keys()) {
            figure.details.emplace_back(key, details->number_or(key, nan));
        }
    }
    figure.unresolved = place.text_or("unresolved");
    return figure;
}

Json faults_json(const std::vector<CaptureFault>& faults) {
    Json list = Json::array();
    for (const CaptureFault& fault : faults) {
        Json entry;
        entry["kind"] = name(fault.kind);
        entry["channel"] = fault.channel;
        entry["start_s"] = fault.start.in<Seconds>();
        entry["note"] = fault.note;
        list.push_back(std::move(entry));
    }
    return list;
}

std::vector<CaptureFault> get_faults(const JsonPlace& place) {
    std::vector<CaptureFault> faults;
    for (const JsonPlace& entry : place.items()) {
        CaptureFault fault;
        fault.kind = named_value(entry.at("kind"), [](std::string_view wanted) {
            return named(capture_fault_kinds(), wanted);
        });
        fault.channel = entry.at("channel").whole();
        fault.start = Seconds{entry.at("start_s").number()};
        fault.note = entry.text_or("note");
        faults.push_back(std::move(fault));
    }
    return faults;
}

}  // namespace afterload::runner
