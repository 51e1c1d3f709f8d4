#include "runner/papers/run_json.hpp"

#include "runner/papers/bench_json.hpp"
#include "runner/papers/figure_json.hpp"
#include "runner/papers/json_list.hpp"
#include "runner/papers/json_quantity.hpp"
#include "runner/papers/retest_json.hpp"
#include "runner/papers/soak_json.hpp"

#include <fmt/format.h>

#include <array>
#include <cmath>
#include <limits>
#include <optional>
#include <utility>

namespace afterload::runner {

namespace {

using analysis::VerdictKind;

constexpr std::array<const char*, 2> sides{"left", "right"};
constexpr double not_known = std::numeric_limits<double>::quiet_NaN();

constexpr std::array verdict_kinds{
    VerdictKind::pass, VerdictKind::conditional_pass, VerdictKind::conditional_fail,
    VerdictKind::fail, VerdictKind::not_resolvable,   VerdictKind::not_comparable};

std::optional<VerdictKind> verdict_kind(std::string_view wanted) {
    for (const VerdictKind kind : verdict_kinds) {
        if (analysis::name(kind) == wanted) {
            return kind;
        }
    }
    return std::nullopt;
}

Json limit_json(const Limit& limit) {
    Json out = Json::object();
    if (limit.at_least) {
        out["at_least"] = *limit.at_least;
    }
    if (limit.at_most) {
        out["at_most"] = *limit.at_most;
    }
    if (limit.nominal) {
        out["nominal"] = *limit.nominal;
    }
    return out;
}

Limit get_limit(const JsonPlace& place) {
    return {place.maybe_number("at_least"), place.maybe_number("at_most"),
            place.maybe_number("nominal")};
}

Json rating_json(const RatedFigure& rated) {
    Json out;
    out["id"] = rated.id;
    out["figure"] = name(rated.figure);
    out["limit"] = limit_json(rated.limit);
    if (rated.warn) {
        out["warn"] = limit_json(*rated.warn);
    }
    out["origin"] = rated.source;
    out["sheet"] = rated.origin == RatedFigure::Origin::house ? "house" : "maker";
    out["conditions"] = conditions_json(rated.conditions);
    return out;
}

RatedFigure get_rating(const JsonPlace& place) {
    RatedFigure rated;
    rated.id = place.at("id").text();
    rated.figure = named_value(place.at("figure"), figure_kind);
    rated.limit = get_limit(place.at("limit"));
    if (const auto warn = place.find("warn")) {
        rated.warn = get_limit(*warn);
    }
    rated.source = place.text_or("origin");
    const std::string sheet = place.text_or("sheet", "maker");
    if (sheet != "maker" && sheet != "house") {
        place.at("sheet").misfit("maker or house is needed");
    }
    rated.origin = sheet == "house" ? RatedFigure::Origin::house : RatedFigure::Origin::maker;
    if (const auto conditions = place.find("conditions")) {
        rated.conditions = get_conditions(*conditions);
    }
    return rated;
}

ScoredFigure get_scored(const JsonPlace& place) {
    ScoredFigure entry;
    entry.id = place.at("id").text();
    entry.label = place.text_or("label");
    entry.figure = get_figure(place);
    if (const auto rating = place.find("rating")) {
        entry.rating = get_rating(*rating);
    }
    if (const auto word = place.find("verdict")) {
        analysis::Verdict verdict;
        verdict.kind = named_value(*word, verdict_kind);
        verdict.margin = place.number_or("margin", not_known);
        if (const auto judged = place.find("judged_with")) {
            verdict.expanded = judged->number_or("u_k2", not_known);
            verdict.rig = judged->number_or("rig", not_known);
        }
        verdict.reason = place.text_or("reason");
        entry.verdict = std::move(verdict);
    }
    return entry;
}

Json driven_json(const DrivenAs& driven) {
    Json out;
    out["silent"] = driven.silent();
    out["signal"] = name(driven.signal);
    out["nominal_hz"] = driven.nominal.in<Hertz>();
    out["drive_left_v"] = driven.drive_left_volts;
    out["drive_right_v"] = driven.drive_right_volts;
    if (driven.target) {
        out["target"] = text(*driven.target);
        out["target_exact"] = level_json(*driven.target);
    }
    out["range"] = driven.range;
    out["mains_voltage_v"] = driven.mains_voltage;
    out["ambient_degc"] = driven.ambient;
    out["heat_sink_degc"] = driven.heat_sink;
    out["since_start_s"] = driven.since_start.in<Seconds>();
    out["dwell_s"] = driven.dwell.in<Seconds>();
    for (const Hertz tone : driven.tones) {
        out["tones_hz"].push_back(tone.in<Hertz>());
    }
    if (!driven.tones.empty()) {
        out["tone_ratio"] = driven.tone_ratio;
    }
    if (driven.band) {
        out["band_hz"] = {driven.band->low.in<Hertz>(), driven.band->high.in<Hertz>()};
    }
    if (driven.period > Seconds{0.0}) {
        out["period_s"] = driven.period.in<Seconds>();
    }
    if (driven.from_generator) {
        out["from_generator"] = true;
    }
    if (driven.open) {
        out["load_open"] = true;
    }
    put_quantity(out, "load_ohm", driven.load);
    if (!driven.volume.empty()) {
        out["volume"] = driven.volume;
    }
    if (!driven.tone_controls.empty()) {
        out["tone_controls"] = driven.tone_controls;
    }
    if (driven.distortion_limit) {
        out["distortion_limit"] = *driven.distortion_limit;
        out["distortion_slope"] = driven.distortion_slope;
    }
    for (std::size_t c = 0; c < 2; ++c) {
        if (!driven.short_of_level[c].empty()) {
            out["short_of_level"][sides[c]] = driven.short_of_level[c];
        }
    }
    return out;
}

DrivenAs get_driven(const JsonPlace& place) {
    DrivenAs driven;
    const std::string signal = place.text_or("signal");
    driven.signal = sequences::signal_named(signal).value_or(
        place.at("silent").boolean() ? sequences::Signal::silence : sequences::Signal::tone);
    driven.nominal = Hertz{place.at("nominal_hz").number()};
    driven.drive_left_volts = place.at("drive_left_v").number();
    driven.drive_right_volts = place.at("drive_right_v").number();
    if (const auto target = place.find("target_exact")) {
        driven.target = get_level(*target);
    }
    driven.range = place.text_or("range");
    driven.mains_voltage = place.number_or("mains_voltage_v", 0.0);
    driven.ambient = place.number_or("ambient_degc", not_known);
    driven.heat_sink = place.number_or("heat_sink_degc", not_known);
    driven.since_start = Seconds{place.at("since_start_s").number()};
    driven.dwell = Seconds{place.at("dwell_s").number()};
    if (const auto tones = place.find("tones_hz")) {
        for (const JsonPlace& tone : tones->items()) {
            driven.tones.emplace_back(tone.number());
        }
    }
    driven.tone_ratio = place.number_or("tone_ratio", 1.0);
    if (const auto band = place.find("band_hz")) {
        const auto edges = band->items();
        if (edges.size() == 2) {
            driven.band = Band{Hertz{edges[0].number()}, Hertz{edges[1].number()}};
        }
    }
    driven.period = Seconds{place.number_or("period_s", 0.0)};
    driven.from_generator = place.boolean_or("from_generator", false);
    driven.open = place.boolean_or("load_open", false);
    driven.volume = place.text_or("volume");
    driven.tone_controls = place.text_or("tone_controls");
    if (const auto limit = place.find("distortion_limit")) {
        driven.distortion_limit = limit->number();
        driven.distortion_slope = place.number_or("distortion_slope", 0.0);
    }
    if (const auto short_of = place.find("short_of_level")) {
        for (std::size_t c = 0; c < 2; ++c) {
            driven.short_of_level[c] = short_of->text_or(sides[c]);
        }
    }
    driven.load = get_quantity<Ohms>(place, "load_ohm");
    return driven;
}

Json record_json(const StoredRecord& record) {
    Json out;
    out["path"] = record.path;
    out["sha256"] = record.sha256;
    out["sound"] = record.sound;
    out["unstable"] = record.unstable;
    if (!record.supersedes.empty()) {
        out["supersedes"] = record.supersedes;
        out["asked_by"] = record.asked_by;
    }
    out["faults"] = faults_json(record.faults);
    out["rate_hz"] = record.rate.frequency().in<Hertz>();
    out["bits"] = record.bits;
    Json& scale = out["full_scale_v_peak"] = Json::array();
    for (const VoltsPeak volts : record.full_scale) {
        scale.push_back(volts.in<VoltsPeak>());
    }
    out["driven"] = driven_json(record.driven);
    return out;
}

StoredRecord get_record(const JsonPlace& place) {
    StoredRecord record;
    record.path = place.at("path").text();
    record.sha256 = place.text_or("sha256");
    record.sound = place.at("sound").boolean();
    record.unstable = place.boolean_or("unstable", false);
    record.supersedes = place.text_or("supersedes");
    if (const auto asked = place.find("asked_by")) {
        record.asked_by = asked->texts();
    }
    record.faults = get_faults(place.at("faults"));
    record.rate = SampleRate{place.at("rate_hz").number()};
    record.bits = place.at("bits").whole();
    for (const double volts : place.at("full_scale_v_peak").numbers()) {
        record.full_scale.emplace_back(volts);
    }
    record.driven = get_driven(place.at("driven"));
    return record;
}

Json event_json(const RunEvent& event) {
    Json out;
    out["class"] = event.kind;
    out["channel"] = event.channel;
    out["since_start_s"] = event.since_start.in<Seconds>();
    out["size"] = event.size;
    out["unit"] = event.unit;
    out["timeline_intact"] = event.timeline_intact;
    out["blame"] = name(event.blame);
    out["note"] = event.note;
    if (event.duration > Seconds{0.0}) {
        out["duration_s"] = event.duration.in<Seconds>();
    }
    if (!event.reaction.empty()) {
        out["reaction"] = event.reaction;
    }
    if (event.heat_sink) {
        out["heat_sink_degc"] = *event.heat_sink;
    }
    if (!event.record.empty()) {
        out["record"] = event.record;
    }
    return out;
}

RunEvent get_event(const JsonPlace& place) {
    RunEvent event;
    event.kind = place.at("class").text();
    event.channel = place.at("channel").whole();
    event.since_start = Seconds{place.at("since_start_s").number()};
    event.size = place.number_or("size", not_known);
    event.unit = place.text_or("unit");
    event.timeline_intact = place.at("timeline_intact").boolean();
    event.blame = named_value(place.at("blame"), [](std::string_view word) { return blame(word); });
    event.note = place.text_or("note");
    event.duration = Seconds{place.number_or("duration_s", 0.0)};
    event.reaction = place.text_or("reaction");
    event.heat_sink = place.maybe_number("heat_sink_degc");
    event.record = place.text_or("record");
    return event;
}

Json reading_json(const SlowReading& reading) {
    Json out;
    out["quantity"] = reading.quantity;
    out["channel"] = name(reading.channel);
    out["value"] = reading.value;
    out["u_k1"] = reading.u_k1;
    out["source"] = reading.source;
    out["gate"] = reading.gate;
    out["outcome"] = reading.outcome;
    return out;
}

SlowReading get_reading(const JsonPlace& place) {
    SlowReading reading;
    reading.quantity = place.at("quantity").text();
    reading.channel = named_value(place.at("channel"), channels_named);
    reading.value = place.number_or("value", not_known);
    reading.u_k1 = place.number_or("u_k1", not_known);
    reading.source = place.text_or("source");
    reading.gate = place.boolean_or("gate", false);
    reading.outcome = place.text_or("outcome");
    return reading;
}

Json bench_time_json(const BenchTime& time) {
    Json out;
    out["recording_s"] = time.recording.in<Seconds>();
    out["settling_s"] = time.settling.in<Seconds>();
    out["level_finding_s"] = time.level_finding.in<Seconds>();
    out["dwell_s"] = time.dwell.in<Seconds>();
    out["retakes_s"] = time.retakes.in<Seconds>();
    out["other_s"] = time.other.in<Seconds>();
    return out;
}

BenchTime get_bench_time(const JsonPlace& place) {
    BenchTime time;
    time.recording = Seconds{place.at("recording_s").number()};
    time.settling = Seconds{place.at("settling_s").number()};
    time.level_finding = Seconds{place.at("level_finding_s").number()};
    time.dwell = Seconds{place.at("dwell_s").number()};
    time.retakes = Seconds{place.at("retakes_s").number()};
    time.other = Seconds{place.at("other_s").number()};
    return time;
}

Json step_json(const StepResult& step) {
    Json out;
    out["name"] = step.name;
    out["group"] = step.group;
    out["group_conditions"] = step.group_conditions;
    out["started_s"] = step.started.in<Seconds>();
    out["ended_s"] = step.ended.in<Seconds>();
    out["bench_time"] = bench_time_json(step.bench_time);
    out["skipped"] = step.skipped;
    out["readings"] = list(step.readings, reading_json);
    out["records"] = list(step.records, record_json);
    out["retakes"] = list(step.retakes, [](const Retake& retake) {
        Json entry;
        entry["since_start_s"] = retake.since_start.in<Seconds>();
        entry["faults"] = faults_json(retake.faults);
        return entry;
    });
    out["events"] = list(step.events, event_json);
    out["figures"] = list(step.figures, scored_figure_json);
    if (step.soak) {
        out["soak"] = soak_json(*step.soak);
    }
    if (!step.within.empty()) {
        out["within"] = step.within;
        out["moment"] = step.moment;
    }
    return out;
}

StepResult get_step(const JsonPlace& place) {
    StepResult step;
    step.name = place.at("name").text();
    step.group = place.text_or("group");
    step.group_conditions = place.text_or("group_conditions");
    step.started = Seconds{place.at("started_s").number()};
    step.ended = Seconds{place.at("ended_s").number()};
    if (const auto time = place.find("bench_time")) {
        step.bench_time = get_bench_time(*time);
    }
    step.skipped = place.text_or("skipped");
    step.readings = get_list(place, "readings", get_reading);
    step.records = get_list(place, "records", get_record);
    step.retakes = get_list(place, "retakes", [](const JsonPlace& entry) {
        return Retake{Seconds{entry.at("since_start_s").number()}, get_faults(entry.at("faults"))};
    });
    step.events = get_list(place, "events", get_event);
    step.figures = get_list(place, "figures", get_scored);
    if (const auto soak = place.find("soak")) {
        step.soak = get_soak(*soak);
    }
    step.within = place.text_or("within");
    step.moment = place.text_or("moment");
    return step;
}

Json spectrum_json(const SpectrumPlot& plot) {
    Json out;
    out["title"] = plot.title;
    out["channel"] = plot.channel;
    out["fundamental_hz"] = plot.fundamental_hz;
    out["fundamental_v"] = plot.fundamental_volts;
    out["frequency_hz"] = plot.frequency_hz;
    out["low_db"] = plot.low_db;
    out["high_db"] = plot.high_db;
    return out;
}

SpectrumPlot get_spectrum(const JsonPlace& place) {
    SpectrumPlot plot;
    plot.title = place.text_or("title");
    plot.channel = place.at("channel").whole();
    plot.fundamental_hz = place.at("fundamental_hz").number();
    plot.fundamental_volts = place.at("fundamental_v").number();
    plot.frequency_hz = place.at("frequency_hz").numbers();
    plot.low_db = place.at("low_db").numbers();
    plot.high_db = place.at("high_db").numbers();
    if (plot.low_db.size() != plot.frequency_hz.size() ||
        plot.high_db.size() != plot.frequency_hz.size()) {
        place.misfit("frequency_hz, low_db and high_db differ in length");
    }
    return plot;
}

Json unit_json(const RunDocument& run) {
    Json out;
    out["maker"] = run.unit.maker;
    out["model"] = run.unit.model;
    out["serial"] = run.serial;
    out["channels"] = run.unit.channels;
    out["inputs"] = run.unit.inputs;
    out["outputs"] = run.unit.outputs;
    out["bridged"] = run.unit.bridged;
    out["output_transformer"] = run.unit.output_transformer;
    if (run.unit.mains_voltage) {
        out["mains_voltage_v"] = *run.unit.mains_voltage;
    }
    if (run.unit.mains_frequency) {
        out["mains_frequency_hz"] = run.unit.mains_frequency->in<Hertz>();
    }
    return out;
}

void get_unit(const JsonPlace& place, RunDocument& run) {
    run.unit.maker = place.text_or("maker");
    run.unit.model = place.text_or("model");
    run.serial = place.text_or("serial");
    run.unit.channels = place.at("channels").whole();
    run.unit.inputs = place.at("inputs").texts();
    run.unit.outputs = place.at("outputs").texts();
    run.unit.bridged = place.boolean_or("bridged", false);
    run.unit.output_transformer = place.boolean_or("output_transformer", false);
    run.unit.mains_voltage = place.maybe_number("mains_voltage_v");
    if (const auto mains = place.maybe_number("mains_frequency_hz")) {
        run.unit.mains_frequency = Hertz{*mains};
    }
}

RunDocument get_run(const JsonPlace& place) {
    const std::string schema = place.at("schema").text();
    if (schema != run_schema) {
        place.misfit(fmt::format("the schema is \"{}\"; this program reads \"{}\"",
                                 schema.substr(0, 40), run_schema));
    }
    RunDocument run;
    run.id = place.at("id").text();
    run.job = place.text_or("job");
    run.stage = named_value(place.at("stage"), [](std::string_view word) { return stage(word); });
    run.state = named_value(place.at("state"), run_state);
    run.started = place.text_or("started");
    run.ended = place.text_or("ended");
    run.lasted = Seconds{place.number_or("lasted_s", 0.0)};
    run.build = place.text_or("build");
    if (const auto simulation = place.find("simulation")) {
        run.simulation = get_simulation(*simulation);
    }
    get_unit(place.at("unit"), run);
    run.bench = get_bench(place.at("bench"));
    const JsonPlace sequence = place.at("sequence");
    run.sequence_name = sequence.text_or("name");
    run.sequence_title = sequence.text_or("title");
    const JsonPlace parameters = sequence.at("parameters");
    for (const std::string& key : parameters.keys()) {
        run.parameters[key] = parameters.at(key).text();
    }
    run.files = get_list(place, "files", [](const JsonPlace& entry) {
        return UsedFile{entry.at("role").text(), entry.at("path").text(), entry.text_or("sha256")};
    });
    run.verdict = named_value(place.at("verdict"), run_verdict);
    const JsonPlace counts = place.at("counts");
    for (const std::string& key : counts.keys()) {
        run.counts[key] = counts.at(key).whole();
    }
    run.not_tested = place.at("not_tested").texts();
    run.stop_reason = place.text_or("stop_reason");
    run.decision_rule = place.text_or("decision_rule");
    run.steps = get_list(place, "steps", get_step);
    run.spectra = get_list(place, "spectra", get_spectrum);
    run.notes = place.at("notes").texts();
    run.records_kept = place.boolean_or("records_kept", true);
    if (const auto retest = place.find("retest")) {
        run.retest = get_retest(*retest);
    }
    return run;
}

/// A verdict that its own figures do not give was written by hand.
void refuse_other_verdict(const JsonPlace& place, const RunDocument& run) {
    if (run.state == RunState::running) {
        return;
    }
    RunDocument again = run;
    conclude(again);
    if (again.verdict != run.verdict) {
        place.at("verdict").misfit(
            fmt::format("says {}, the figures of the file give {}: the file was edited",
                        name(run.verdict), name(again.verdict)));
    }
}

}  // namespace

Json scored_figure_json(const ScoredFigure& entry) {
    Json out;
    out["id"] = entry.id;
    out["label"] = entry.label;
    put_figure(out, entry.figure);
    if (entry.rating) {
        out["rating"] = rating_json(*entry.rating);
    }
    if (entry.verdict) {
        out["verdict"] = analysis::name(entry.verdict->kind);
        out["margin"] = entry.verdict->margin;
        Json& judged = out["judged_with"];
        judged["u_k2"] = entry.verdict->expanded;
        judged["rig"] = entry.verdict->rig;
        out["reason"] = entry.verdict->reason;
    } else {
        out["verdict"] = nullptr;
    }
    return out;
}

Json run_json(const RunDocument& run) {
    Json out;
    out["schema"] = run_schema;
    out["id"] = run.id;
    out["job"] = run.job;
    out["stage"] = name(run.stage);
    out["state"] = name(run.state);
    out["started"] = run.started;
    out["ended"] = run.ended;
    out["lasted_s"] = run.lasted.in<Seconds>();
    out["build"] = run.build;
    if (run.simulation) {
        Json& seeds = out["seeds"];
        seeds["unit"] = run.simulation->unit_seed;
        seeds["rig"] = run.simulation->rig_seed;
        seeds["run"] = run.simulation->run_seed;
        out["simulation"] = simulation_json(*run.simulation);
    }
    out["unit"] = unit_json(run);
    out["bench"] = bench_json(run.bench);
    Json& sequence = out["sequence"];
    sequence["name"] = run.sequence_name;
    sequence["title"] = run.sequence_title;
    Json& parameters = sequence["parameters"] = Json::object();
    for (const auto& [key, value] : run.parameters) {
        parameters[key] = value;
    }
    out["files"] = list(run.files, [](const UsedFile& file) {
        Json entry;
        entry["role"] = file.role;
        entry["path"] = file.path;
        entry["sha256"] = file.sha256;
        return entry;
    });
    out["verdict"] = name(run.verdict);
    Json& counts = out["counts"] = Json::object();
    for (const auto& [key, count] : run.counts) {
        counts[key] = count;
    }
    out["not_tested"] = run.not_tested;
    out["stop_reason"] = run.stop_reason;
    out["decision_rule"] = run.decision_rule;
    out["steps"] = list(run.steps, step_json);
    out["spectra"] = list(run.spectra, spectrum_json);
    out["notes"] = run.notes;
    out["records_kept"] = run.records_kept;
    if (run.retest) {
        out["retest"] = retest_json(*run.retest);
    }
    return out;
}

std::string run_json_text(const RunDocument& run) {
    return pretty_json(run_json(run));
}

tl::expected<RunDocument, std::string> read_run_json(std::string_view text) {
    const auto document = parse_json(text);
    if (!document) {
        return tl::make_unexpected(document.error());
    }
    try {
        const JsonPlace place{*document};
        RunDocument run = get_run(place);
        refuse_other_verdict(place, run);
        return run;
    } catch (const JsonMisfit& misfit) {
        return tl::make_unexpected(std::string{misfit.what()});
    } catch (const Json::exception& error) {
        return tl::make_unexpected(fmt::format("not a run document: {}", error.what()));
    }
}

}  // namespace afterload::runner
