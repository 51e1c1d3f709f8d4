#include "tests/runner/sample_run.hpp"

#include <cmath>
#include <limits>
#include <string>
#include <utility>

namespace afterload::runner {

namespace {

using analysis::Verdict;
using analysis::VerdictKind;

constexpr double nan = std::numeric_limits<double>::quiet_NaN();

LevelTarget watts(double value) {
    return {LevelTarget::Kind::output_power, value};
}

RatedFigure rated(std::string id, FigureKind kind, Limit limit, std::string source,
                  RatedFigure::Origin origin = RatedFigure::Origin::maker) {
    RatedFigure figure;
    figure.id = std::move(id);
    figure.figure = kind;
    figure.limit = limit;
    figure.source = std::move(source);
    figure.origin = origin;
    return figure;
}

Limit at_least(double value) {
    return {value, std::nullopt, std::nullopt};
}
Limit at_most(double value) {
    return {std::nullopt, value, std::nullopt};
}

Budget budget(double noise, double systematic, const std::string& source) {
    return {{"record noise", BudgetLine::Kind::noise, noise, 38.0},
            {source, BudgetLine::Kind::systematic, systematic}};
}

ScoredFigure figure(FigureKind kind, int channel, double value, Budget lines) {
    ScoredFigure entry;
    entry.figure.kind = kind;
    entry.figure.channel = channel;
    entry.figure.value = value;
    entry.figure.budget = std::move(lines);
    entry.figure.rig_added = 0.0;
    entry.figure.rig_cancelled = 0.0;
    return entry;
}

Verdict verdict(VerdictKind kind, const ScoredFigure& entry, double margin, double rig,
                std::string reason = {}) {
    return {kind, margin, rig, expanded(entry.figure.budget), std::move(reason)};
}

/// Left and right of one row. `verdicts` are judged by hand, so that this data does not depend on
/// the code that judges.
void add_pair(StepResult& step, const std::string& label, FigureKind kind, double left,
              double right, double u_k1, double rig, const RatedFigure& rating,
              const Conditions& conditions, VerdictKind left_verdict, VerdictKind right_verdict,
              const std::string& reason = {}) {
    for (const int channel : {1, 2}) {
        const double value = channel == 1 ? left : right;
        ScoredFigure entry = figure(kind, channel, value,
                                    budget(0.3 * u_k1, std::sqrt(0.91) * u_k1,
                                           channel == 1 ? "range high, left, 2026-03-02"
                                                        : "range high, right, 2026-03-02"));
        entry.label = label;
        entry.id = step.name + "/" + std::string{name(kind)} + "/" + label + "/" +
                   (channel == 1 ? "left" : "right");
        entry.figure.conditions = conditions;
        entry.figure.rig_added = rig;
        entry.figure.rig_cancelled = rig;
        entry.rating = rating;
        const double margin =
            rating.limit.at_most ? *rating.limit.at_most - value : value - *rating.limit.at_least;
        const VerdictKind kind_here = channel == 1 ? left_verdict : right_verdict;
        entry.verdict = verdict(kind_here, entry, margin, rig,
                                kind_here == VerdictKind::pass ? std::string{} : reason);
        step.figures.push_back(std::move(entry));
    }
}

StoredRecord record(const std::string& path, double hertz, double drive, double since_start) {
    StoredRecord stored;
    stored.path = path;
    stored.sha256 = std::string(64, 'a');
    stored.driven.signal = drive == 0.0 ? sequences::Signal::silence : sequences::Signal::tone;
    stored.driven.nominal = Hertz{hertz};
    stored.driven.drive_left_volts = drive;
    stored.driven.drive_right_volts = drive;
    if (drive > 0.0) {
        stored.driven.target = watts(1.0);
    }
    stored.driven.range = "high";
    stored.driven.mains_voltage = 230.4;
    stored.driven.ambient = 22.0;
    stored.driven.heat_sink = nan;
    stored.driven.since_start = Seconds{since_start};
    stored.full_scale = {VoltsPeak{34.017}, VoltsPeak{33.982}};
    stored.rate = SampleRate{48000.0};
    return stored;
}

sequences::BenchFile bench() {
    sequences::BenchFile file;
    file.name = "north";
    file.path = "inputs/bench-north.bench.yaml";
    sequences::SimulationEntry simulation;
    simulation.unit_seed = 7;
    simulation.run_seed = 42;
    simulation.power = Watts{40.0};
    simulation.headroom = Gain{0.6};
    simulation.faults.push_back(
        {"resistive_relay", Channels::right, 0.5, Seconds{12.5}, std::nullopt});
    file.simulated = simulation;
    file.source.full_scale = VoltsRms{2.1};
    file.source.impedance = Ohms{100.0};
    file.source.level_u_k1 = 0.01;
    file.source.calibration_id = "source 2026-03-02";
    file.generator = file.source;
    file.generator->instrument = "generator";
    file.generator->calibration_id = "generator 2026-05-20";
    file.generator->distortion = AmplitudeRatio{1e-6};
    sequences::RangeEntry range;
    range.name = "high";
    range.full_scale = VoltsPeak{34.0};
    range.safe = VoltsPeak{60.0};
    range.calibrated = "2026-03-02";
    range.own_noise_a = VoltsRms{0.00024};
    range.own_distortion = {{VoltsRms{2.83}, AmplitudeRatio{3e-6}, AmplitudeRatio{3e-6}},
                            {VoltsRms{17.9}, AmplitudeRatio{3e-6}, AmplitudeRatio{4e-6}}};
    range.own_found = "2026-03-02";
    file.ranges.push_back(range);
    for (const Channels channel : {Channels::left, Channels::right}) {
        sequences::LoadEntry load;
        load.channel = channel;
        load.resistance = Ohms{channel == Channels::left ? 8.03 : 8.01};
        load.continuous = Watts{120.0};
        load.measured = "2026-03-02";
        file.loads.push_back(load);
    }
    sequences::MeterEntry meter;
    meter.name = "bench meter";
    meter.reads = {"dc_offset", "mains_voltage"};
    file.meters.push_back(meter);
    file.limits.largest_output = Watts{60.0};
    return file;
}

Curve response(double low_corner) {
    Curve curve;
    for (int i = 0; i <= 30; ++i) {
        const double f = 20.0 * std::pow(1000.0, i / 30.0);
        const double low = -10.0 * std::log10(1.0 + std::pow(low_corner / f, 2.0));
        const double high = -10.0 * std::log10(1.0 + std::pow(f / 60000.0, 2.0));
        curve.frequency_hz.push_back(f);
        curve.value.push_back(low + high);
        curve.u_k1.push_back(0.02);
    }
    return curve;
}

void add_response(StepResult& step, int channel, double corner, VerdictKind kind,
                  const std::string& reason) {
    ScoredFigure entry = figure(FigureKind::frequency_response, channel, 0.0,
                                budget(0.01, 0.022, "flatness of the rig"));
    entry.label = "response 20 Hz";
    entry.id = step.name + "/frequency_response/" + (channel == 1 ? "left" : "right");
    entry.figure.curve = response(corner);
    entry.figure.value = entry.figure.curve->value.front();
    entry.figure.conditions.reference_frequency = Hertz{997.0};
    entry.figure.conditions.tone_range = Band{Hertz{20.0}, Hertz{20000.0}};
    entry.figure.conditions.frequency = Hertz{20.0};
    entry.figure.conditions.output_level = watts(1.0);
    entry.rating = rated("response", FigureKind::frequency_response, {-1.0, 1.0, 0.0}, "page 3");
    entry.rating->conditions.tone_range = Band{Hertz{20.0}, Hertz{20000.0}};
    entry.verdict = verdict(kind, entry, *entry.figure.value + 1.0, 0.02, reason);
    step.figures.push_back(std::move(entry));
}

void add_harmonics(StepResult& step, int channel, double h3) {
    ScoredFigure entry;
    entry.id = step.name + "/harmonic/" + (channel == 1 ? "left" : "right");
    entry.label = "harmonics 1 W, 1 kHz";
    entry.figure.kind = FigureKind::harmonic;
    entry.figure.channel = channel;
    entry.figure.conditions.frequency = Hertz{997.0};
    entry.figure.conditions.output_level = watts(1.0);
    for (int order = 2; order <= 9; ++order) {
        const double ratio = order % 2 == 1 ? h3 / std::pow(order / 3.0, 1.2) : 0.2 * h3 / order;
        entry.figure.table.push_back({order, ratio, 12.5 * order - 60.0, 2e-7});
    }
    step.figures.push_back(std::move(entry));
}

SpectrumPlot spectrum(const std::string& title, int channel, double h3_db) {
    SpectrumPlot plot;
    plot.title = title;
    plot.channel = channel;
    plot.fundamental_hz = 997.0;
    plot.fundamental_volts = 2.828;
    for (int i = 0; i < 600; ++i) {
        const double f = 27.0 * (i + 0.5);
        const double wobble = 2.0 * std::sin(12.9898 * i) + 1.5 * std::sin(78.233 * i);
        double high = -106.0 + wobble;
        const int order = static_cast<int>(std::lround(f / 997.0));
        if (order >= 1 && std::abs(f - 997.0 * order) <= 13.5) {
            high = order == 1 ? 0.0 : h3_db - 4.0 * (order - 3) - (order % 2 == 0 ? 14.0 : 0.0);
        }
        plot.frequency_hz.push_back(f);
        plot.low_db.push_back(-112.0 + wobble);
        plot.high_db.push_back(std::max(high, -106.0 + wobble));
    }
    return plot;
}

void add_distortions(StepResult& step, bool starved) {
    const RatedFigure thd_rating = rated("thd", FigureKind::thd, at_most(0.0005), "page 3");
    const auto level = [&](double power, const std::string& label, double left, double right) {
        Conditions conditions;
        conditions.output_level = watts(power);
        conditions.frequency = Hertz{997.0};
        conditions.highest_order = 9;
        conditions.load = Ohms{8.0};
        const VerdictKind left_verdict = left > 0.0005 ? VerdictKind::fail : VerdictKind::pass;
        add_pair(step, label, FigureKind::thd, left, right, 2e-6, 6e-6, thd_rating, conditions,
                 left_verdict, VerdictKind::pass,
                 "outside by 0.26 %; distortion that rises as level falls is usually the idle "
                 "current of the output stage");
    };
    level(0.05, "THD 0.05 W, 1 kHz", starved ? 0.0062 : 0.000126, 0.000110);
    level(0.25, "THD 0.25 W, 1 kHz", starved ? 0.0044 : 0.000118, 0.000101);
    level(1.0, "THD 1 W, 1 kHz", starved ? 0.0031 : 0.000108, 0.000093);
    if (!starved) {
        level(10.0, "THD 10 W, 1 kHz", 0.000104, 0.000095);
        level(40.0, "THD 40 W, 1 kHz", 0.000152, 0.000141);
    }
    const auto tone = [&](double hertz, const std::string& label, double left, double right,
                          int orders) {
        Conditions conditions;
        conditions.output_level = watts(1.0);
        conditions.frequency = Hertz{hertz};
        conditions.highest_order = orders;
        conditions.load = Ohms{8.0};
        add_pair(step, label, FigureKind::thd, left, right, 3e-6, 6e-6, thd_rating, conditions,
                 VerdictKind::pass, VerdictKind::pass);
    };
    tone(19.7, "THD 1 W, 20 Hz", 0.000141, 0.000138, 9);
    tone(6300.0, "THD 1 W, 6.3 kHz", 0.000151, 0.000144, 3);

    for (const int channel : {1, 2}) {
        ScoredFigure entry =
            figure(FigureKind::thd_plus_noise, channel, channel == 1 ? 0.000162 : 0.000151,
                   budget(2e-6, 1.1e-5, "range high"));
        entry.label = "THD + noise 1 W, 1 kHz";
        entry.id = step.name + "/thd_plus_noise/" + (channel == 1 ? "left" : "right");
        entry.figure.rig_added = 4e-5;
        entry.figure.conditions.output_level = watts(1.0);
        entry.figure.conditions.frequency = Hertz{997.0};
        entry.figure.conditions.bandwidth = Band{Hertz{20.0}, Hertz{20000.0}};
        step.figures.push_back(std::move(entry));
    }
    add_harmonics(step, 1, starved ? 0.0024 : 0.000075);
    add_harmonics(step, 2, 0.00007);
}

StepResult control_card() {
    StepResult step;
    step.name = "control-card";
    step.ended = Seconds{31.0};
    step.readings = {
        {"dc_offset", Channels::left, 0.0091, 0.00015, "bench meter", true, "within 30 mV"},
        {"dc_offset", Channels::right, -0.0034, 0.00015, "bench meter", true, "within 30 mV"}};
    return step;
}

StepResult low_level(bool received) {
    StepResult step;
    step.name = "low-level";
    step.group = "Direct path";
    step.group_conditions = "line in, volume maximum, both channels driven into 8.00 Ω";
    step.started = Seconds{31.0};
    step.ended = Seconds{98.0};
    step.records = {record("records/002-1.flac", 997.0, 0.0194, 33.0),
                    record("records/002-2.flac", 19.7, 0.0194, 36.0)};
    step.records[1].sound = false;
    step.records[1].faults = {{CaptureFaultKind::gap, 0, Seconds{0.21}, "576 samples missing"}};
    step.retakes = {{Seconds{35.0}, {{CaptureFaultKind::gap, 0, Seconds{0.21}, "576 samples"}}}};
    step.events = {{"level",
                    1,
                    Seconds{71.4},
                    -0.62,
                    "dB",
                    true,
                    Blame::unit_or_lead,
                    "lasted 40 ms; clear the lead, then repeat",
                    Seconds{0.04},
                    "",
                    {},
                    ""}};
    add_distortions(step, received);
    add_response(step, 1, 5.0, VerdictKind::pass, "");
    add_response(step, 2, received ? 38.0 : 5.5, received ? VerdictKind::fail : VerdictKind::pass,
                 received ? "outside by 5.6 dB; bass missing in one channel is usually a coupling "
                            "capacitor"
                          : "");

    ScoredFigure balance =
        figure(FigureKind::channel_balance, 0, 0.090, budget(0.001, 0.0124, "balance, 2026-03-02"));
    balance.label = "balance";
    balance.id = "low-level/channel_balance/both";
    balance.figure.pair = {1, 2};
    balance.figure.conditions.frequency = Hertz{997.0};
    balance.rating = rated("balance", FigureKind::channel_balance, {-0.5, 0.5, 0.0}, "house rule",
                           RatedFigure::Origin::house);
    balance.verdict = verdict(VerdictKind::pass, balance, 0.41, 0.0);
    step.figures.push_back(std::move(balance));

    for (const int from : {1, 2}) {
        ScoredFigure entry = figure(FigureKind::channel_separation, 0, from == 1 ? 64.1 : 65.3,
                                    budget(0.05, 0.29, "range high"));
        entry.label = "separation 1 kHz";
        entry.id = from == 1 ? "low-level/channel_separation/left-right"
                             : "low-level/channel_separation/right-left";
        entry.figure.pair = {from, 3 - from};
        entry.figure.conditions.frequency = Hertz{997.0};
        entry.figure.conditions.termination = "600 ohm";
        entry.figure.rig_added = 0.2;
        entry.rating =
            rated("separation", FigureKind::channel_separation, at_least(50.0), "page 4");
        entry.verdict = verdict(VerdictKind::pass, entry, *entry.figure.value - 50.0, 0.2);
        step.figures.push_back(std::move(entry));
    }
    return step;
}

StepResult quiet() {
    StepResult step;
    step.name = "quiet";
    step.group = "Direct path";
    step.started = Seconds{98.0};
    step.ended = Seconds{120.0};
    step.records = {record("records/003-1.flac", 0.0, 0.0, 99.0)};
    Conditions conditions;
    conditions.weighting = Weighting::a;
    conditions.reference_level = watts(40.0);
    conditions.termination = "shorted";
    add_pair(step, "signal to noise, A", FigureKind::signal_to_noise, 97.9, 98.2, 0.2, 2.7,
             rated("signal-to-noise", FigureKind::signal_to_noise, at_least(98.0), "page 4"),
             conditions, VerdictKind::not_resolvable, VerdictKind::not_resolvable,
             "the rig’s own noise, 97.6 dB, is the larger part; the 2 V range resolves it");
    Conditions hum;
    hum.volume = "zero";
    add_pair(step, "hum, 50 to 500 Hz", FigureKind::hum_voltage, 0.000142, 0.000171, 6e-6, 2e-5,
             rated("hum", FigureKind::hum_voltage, at_most(0.0003), "house rule",
                   RatedFigure::Origin::house),
             hum, VerdictKind::pass, VerdictKind::pass);
    for (ScoredFigure& entry : step.figures) {
        if (entry.figure.kind == FigureKind::hum_voltage) {
            entry.figure.details = {
                {"mains_frequency", 50.02}, {"line_1", 0.000042}, {"line_2", 0.00012},
                {"line_3", 0.000031},       {"line_4", 0.00004},  {"line_5", 0.000013},
                {"line_6", 0.00002},        {"line_7", 0.0},      {"line_8", 0.000009}};
        }
    }
    return step;
}

StepResult rated_output() {
    StepResult step;
    step.name = "rated-output";
    step.group = "Direct path";
    step.started = Seconds{120.0};
    step.ended = Seconds{170.0};
    Conditions conditions;
    conditions.load = Ohms{8.0};
    conditions.channels_driven = Channels::both;
    conditions.frequency = Hertz{997.0};
    conditions.thd = 0.0005;
    conditions.mains_voltage = 230.4;
    conditions.dwell = Seconds{9.0};
    add_pair(step, "power, THD 0.05 %", FigureKind::output_power, 46.2, 45.8, 0.35, 0.0,
             rated("power", FigureKind::output_power, at_least(40.0), "page 3"), conditions,
             VerdictKind::pass, VerdictKind::pass);
    Conditions damping;
    damping.frequency = Hertz{997.0};
    damping.load = Ohms{8.0};
    add_pair(step, "damping factor, A", FigureKind::damping_factor, 118.0, 64.0, 3.0, 0.05,
             rated("damping", FigureKind::damping_factor, at_least(80.0), "page 4"), damping,
             VerdictKind::pass, VerdictKind::fail,
             "usually a contact in the path; look at the speaker relay first; the same test on "
             "terminals B separates it");
    return step;
}

StepResult tone_path() {
    StepResult step;
    step.name = "tone-path";
    step.group = "Tone path";
    step.group_conditions = "bass and treble at centre, 1 W";
    step.started = Seconds{170.0};
    step.ended = Seconds{215.0};
    Conditions against;
    against.tone_range = Band{Hertz{50.0}, Hertz{15000.0}};
    add_pair(step, "against direct", FigureKind::tone_range_error, 0.91, 1.07, 0.06, 0.01,
             rated("tone-against-direct", FigureKind::tone_range_error, at_most(1.0), "house rule",
                   RatedFigure::Origin::house),
             against, VerdictKind::conditional_pass, VerdictKind::conditional_fail,
             "outside by less than the uncertainty; repeat, loads at the terminals");
    Conditions output;
    output.thd = 0.01;
    output.frequency = Hertz{50.0};
    add_pair(step, "maximum output", FigureKind::output_voltage, 17.63, 17.51, 0.105, 0.0,
             rated("tone-output", FigureKind::output_voltage, at_least(17.9), "page 4"), output,
             VerdictKind::not_comparable, VerdictKind::not_comparable,
             "the sheet does not state the tone setting for its rated output");
    return step;
}

StepResult phono() {
    StepResult step;
    step.name = "phono";
    step.group = "Phono";
    step.group_conditions = "47 kΩ, at the recording output";
    step.started = Seconds{215.0};
    step.ended = Seconds{281.0};
    for (const int channel : {1, 2}) {
        ScoredFigure entry = figure(FigureKind::gain, channel, channel == 1 ? 35.68 : 35.61,
                                    budget(0.005, 0.0598, "source 2026-03-02"));
        entry.label = "gain, 1 kHz";
        entry.id = channel == 1 ? "phono/gain/left" : "phono/gain/right";
        entry.figure.conditions.frequency = Hertz{997.0};
        entry.rating =
            rated("phono-gain", FigureKind::gain, {34.6, 36.6, 35.6}, "from sensitivity");
        entry.verdict = verdict(VerdictKind::pass, entry, 1.0 - (*entry.figure.value - 35.6), 0.0);
        step.figures.push_back(std::move(entry));
    }
    Conditions curve;
    curve.tone_range = Band{Hertz{20.0}, Hertz{20000.0}};
    add_pair(step, "equalisation error", FigureKind::equalisation_error, 0.42, 0.38, 0.08, 0.03,
             rated("equalisation", FigureKind::equalisation_error, at_most(0.5), "page 5"), curve,
             VerdictKind::conditional_pass, VerdictKind::conditional_pass,
             "inside by less than the uncertainty");
    for (const int channel : {1, 2}) {
        ScoredFigure entry;
        entry.label = "THD 2.5 mV, 1 kHz";
        entry.id = channel == 1 ? "phono/thd/left" : "phono/thd/right";
        entry.figure.kind = FigureKind::thd;
        entry.figure.channel = channel;
        entry.figure.bound = Bound{2.1e-5, Bound::Side::at_most};
        entry.figure.rig_added = 2.1e-5;
        entry.figure.rig_cancelled = 1e-5;
        entry.figure.conditions.frequency = Hertz{997.0};
        entry.figure.conditions.highest_order = 9;
        entry.figure.conditions.bandwidth = Band{Hertz{997.0}, Hertz{21600.0}};
        entry.figure.assumed = {"bandwidth"};
        entry.rating = rated("phono-thd", FigureKind::thd, at_most(0.0005), "page 5");
        entry.verdict = Verdict{VerdictKind::pass, 0.000479, 1e-5, 0.0, ""};
        step.figures.push_back(std::move(entry));
    }
    ScoredFigure separation;
    separation.label = "separation 1 kHz";
    separation.id = "phono/channel_separation/left-right";
    separation.figure.kind = FigureKind::channel_separation;
    separation.figure.pair = {1, 2};
    separation.figure.bound = Bound{71.4, Bound::Side::at_least};
    separation.figure.rig_cancelled = 0.8;
    separation.figure.conditions.frequency = Hertz{997.0};
    separation.rating =
        rated("phono-separation", FigureKind::channel_separation, at_least(55.0), "page 5");
    separation.verdict = Verdict{VerdictKind::pass, 16.4, 0.8, 0.0, ""};
    step.figures.push_back(std::move(separation));
    return step;
}

RunDocument run_with(std::vector<StepResult> steps) {
    RunDocument run;
    run.id = "2417-HF40-01873-20260312T1605";
    run.job = "2417";
    run.state = RunState::done;
    run.started = "2026-03-12T16:05:31.000Z";
    run.ended = "2026-03-12T16:10:12.000Z";
    run.lasted = Seconds{281.0};
    run.build = "afterload 0.1.0";
    run.unit.maker = "Hollinfay";
    run.unit.model = "H40";
    run.unit.inputs = {"line", "phono"};
    run.unit.outputs = {"speaker_a", "speaker_b", "headphone"};
    run.unit.mains_voltage = 230.0;
    run.unit.mains_frequency = Hertz{50.0};
    run.serial = "HF40-01873";
    run.bench = bench();
    run.simulation = run.bench.simulated;
    run.sequence_name = "final-verification";
    run.sequence_title = "Final verification";
    run.parameters = {{"dwell", "9 s"}};
    run.files = {{"rating", "inputs/rating-hollinfay-h40.rating.yaml", std::string(64, 'b')},
                 {"bench", "inputs/bench-north.bench.yaml", std::string(64, 'c')},
                 {"sequence", "inputs/final-verification.sequence.yaml", std::string(64, 'd')}};
    run.not_tested = {"terminals B", "headphone", "power into 4 Ω"};
    run.decision_rule =
        "A figure passes or fails when it is inside or outside its limit by more than its expanded "
        "uncertainty (k = 2) and what the rig itself may have added or hidden together.";
    run.steps = std::move(steps);
    run.notes = {"covers on, 32 min warm"};
    conclude(run);
    return run;
}

}  // namespace

RunDocument sample_run() {
    StepResult skipped;
    skipped.name = "terminals-b";
    skipped.skipped = "no second pair of leads";
    RunDocument run = run_with(
        {control_card(), low_level(false), quiet(), rated_output(), tone_path(), phono(), skipped});
    run.not_tested.emplace_back("terminals-b (no second pair of leads)");
    conclude(run);
    run.spectra = {spectrum("at rated output, 1 kHz", 1, -82.5)};
    return run;
}

RunDocument passing_run() {
    RunDocument run = run_with({control_card(), low_level(false)});
    run.not_tested.clear();
    conclude(run);
    return run;
}

RunDocument received_run() {
    RunDocument run = run_with({control_card(), low_level(true)});
    run.stage = Stage::as_received;
    run.spectra = {spectrum("at the condition that failed: THD 1 W, 1 kHz", 1, -52.4)};
    return run;
}

}  // namespace afterload::runner
