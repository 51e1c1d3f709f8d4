#include "runner/options.hpp"

#include "runner/exit_status.hpp"
#include "sequences/diagnostic.hpp"
#include "sequences/quantity_text.hpp"

#include <CLI/CLI.hpp>
#include <fmt/format.h>

#include <algorithm>

namespace afterload::runner {
namespace {

using sequences::Dimension;

constexpr std::string_view sweep_of = "sweep:";
constexpr std::string_view multitone_of = "multitone:";

/// The file in "sweep:STIMULUS.wav".
std::string stimulus_file(const std::string& signal, std::string_view kind) {
    if (signal.size() == kind.size()) {
        throw CLI::ValidationError("--signal", "which file was played is missing: write " +
                                                   std::string{kind} + "STIMULUS.wav");
    }
    return signal.substr(kind.size());
}

/// A quantity on the command line, with the message of the quantity reader.
double quantity(const std::string& text, Dimension dimension, const std::string& option,
                std::string_view noun) {
    const auto value = sequences::read_quantity(text, dimension, noun);
    if (!value) {
        throw CLI::ValidationError(
            option,
            value.error().what + (value.error().advice.empty() ? "" : ": " + value.error().advice));
    }
    return *value;
}

std::vector<std::string> split(const std::string& text) {
    std::vector<std::string> parts;
    std::string part;
    for (const char letter : text + ",") {
        if (letter == ',') {
            parts.push_back(part);
            part.clear();
        } else {
            part += letter;
        }
    }
    return parts;
}

/// The words as they are typed, before they mean anything.
struct Words {
    std::string stage = "repaired";
    std::vector<std::string> set;
    std::string signal = "tone";
    std::string full_scale = "1 V";
    std::string load;
    std::string mains;
    std::string bandwidth;
    std::string frequency;
};

Stage stage_named(const std::string& word) {
    const auto found = stage(word);
    if (!found) {
        throw CLI::ValidationError(
            "--stage", "“" + word + "” is no stage: as_received, repaired, soaked or cold");
    }
    return *found;
}

std::vector<std::pair<std::string, std::string>> settings(const std::vector<std::string>& words) {
    std::vector<std::pair<std::string, std::string>> set;
    for (const std::string& word : words) {
        const auto equals = word.find('=');
        if (equals == 0 || equals == std::string::npos) {
            throw CLI::ValidationError("--set", "“" + word + "”: write name=value, as in dwell=5s");
        }
        set.emplace_back(word.substr(0, equals), word.substr(equals + 1));
    }
    return set;
}

CaptureSettings capture_settings(const Words& words, int highest_order) {
    CaptureSettings settings;
    settings.highest_order = highest_order;
    if (words.signal == "silence") {
        settings.signal = CaptureSettings::Signal::silence;
    } else if (words.signal == "two-tone") {
        settings.signal = CaptureSettings::Signal::two_tone;
    } else if (words.signal.starts_with(sweep_of)) {
        settings.signal = CaptureSettings::Signal::sweep;
        settings.stimulus = stimulus_file(words.signal, sweep_of);
    } else if (words.signal.starts_with(multitone_of)) {
        settings.signal = CaptureSettings::Signal::multitone;
        settings.stimulus = stimulus_file(words.signal, multitone_of);
    } else if (words.signal != "tone") {
        throw CLI::ValidationError(
            "--signal", "“" + words.signal +
                            "” is no signal: write tone, two-tone, silence, sweep:STIMULUS.wav or "
                            "multitone:STIMULUS.wav");
    }
    settings.full_scale.clear();
    for (const std::string& part : split(words.full_scale)) {
        // Full scale is a peak voltage by definition: "1.0V" is read as such.
        settings.full_scale.emplace_back(quantity(part, Dimension::volts_dc, "--full-scale",
                                                  "volts peak at digital full scale"));
        if (settings.full_scale.back() <= VoltsPeak{0.0}) {
            throw CLI::ValidationError("--full-scale", "must be more than zero volts");
        }
    }
    if (!words.load.empty()) {
        settings.load = Ohms{quantity(words.load, Dimension::ohms, "--load", "a load")};
        if (*settings.load <= Ohms{0.0}) {
            throw CLI::ValidationError("--load", "must be more than zero ohm");
        }
    }
    if (!words.mains.empty()) {
        settings.mains = Hertz{quantity(words.mains, Dimension::hertz, "--mains", "mains")};
        if (*settings.mains < Hertz{40.0} || *settings.mains > Hertz{70.0}) {
            throw CLI::ValidationError("--mains",
                                       words.mains + " is no mains frequency: 50Hz or 60Hz");
        }
    }
    if (!words.frequency.empty()) {
        settings.frequency =
            Hertz{quantity(words.frequency, Dimension::hertz, "--frequency", "a frequency")};
    }
    if (!words.bandwidth.empty()) {
        const auto band = sequences::read_band(words.bandwidth, "a bandwidth");
        if (!band) {
            throw CLI::ValidationError("--bandwidth",
                                       band.error().what + ": " + band.error().advice);
        }
        settings.bandwidth = *band;
    }
    return settings;
}

std::vector<std::string> names_of_commands(const CLI::App& app) {
    std::vector<std::string> names;
    for (const CLI::App* command : app.get_subcommands([](const CLI::App*) { return true; })) {
        names.push_back(command->get_name());
    }
    return names;
}

/// CLI11 only says that a word is missing or too many; a person wants the nearest command.
std::string with_nearest_command(const CLI::App& app, int count, const char* const* words,
                                 std::string message) {
    const std::vector<std::string> names = names_of_commands(app);
    for (int i = 1; i < count; ++i) {
        const std::string word = words[i];
        if (word.starts_with("-")) {
            continue;
        }
        if (std::find(names.begin(), names.end(), word) != names.end()) {
            const CLI::App& command = *app.get_subcommand(word);
            const std::vector<std::string> inner = names_of_commands(command);
            if (inner.empty()) {
                return message;
            }
            return i + 1 < count ? with_nearest_command(command, count - i, words + i, message)
                                 : fmt::format("{} what? write {}", word, fmt::join(inner, ", "));
        }
        const std::vector<std::string_view> known{names.begin(), names.end()};
        const auto near = sequences::nearest(word, known);
        std::string text = "“" + sequences::escaped(word) + "” is no command";
        text += near.empty() ? "" : "; nearest: " + std::string{near};
        return text;
    }
    return message;
}

}  // namespace

Options read_options(int count, const char* const* words) {
    CLI::App app{"Verifies a repaired amplifier against its rating sheet.", "afterload"};
    app.set_version_flag("--version", std::string{"afterload "} + AFTERLOAD_BUILD);
    app.require_subcommand(1);
    app.fallthrough();
    app.footer(
        "Example, on a simulated bench:\n"
        "  afterload run final-verification \\\n"
        "      --unit fixtures/units/hollinfay-h40.rating.yaml --house fixtures/house.rating.yaml "
        "\\\n"
        "      --bench fixtures/benches/north.bench.yaml --serial 1873 --assume-prompts");

    Options options;
    app.add_flag("--json", options.output.json, "print one JSON document and nothing else");
    app.add_flag("--quiet", options.output.quiet, "no progress");
    app.add_option("--color", options.output.colour, "auto, always or never")
        ->check(CLI::IsMember({"auto", "always", "never"}));

    std::string socket;
    app.add_option("--socket", socket, "path of afterloadd's socket, where it is not found");

    Words typed;
    CheckOptions check;
    CLI::App* check_command = app.add_subcommand("check", "every mistake in a file");
    check_command->add_option("files", check.files, "rating, bench, sequence or job files")
        ->required();

    RunOptions run;
    CLI::App* run_command = app.add_subcommand("run", "carry a sequence out on a unit");
    run_command
        ->add_option("sequence", run.sequence, "the sequence file, or the name of one that ships")
        ->required();
    run_command->add_option("--unit", run.unit, "the unit's rating sheet")->required();
    run_command->add_option("--house", run.house, "the shop's own limits, laid under the unit's");
    run_command->add_option("--bench", run.bench,
                            "the bench file: the run is carried out here; without it afterloadd "
                            "carries it out");
    run_command->add_option("--serial", run.serial, "serial number of the unit");
    run_command->add_option("--stage", typed.stage, "as_received, repaired, soaked or cold");
    run_command->add_option("--job", run.job, "the ticket this run belongs to, or its job file");
    run_command->add_option("--set", typed.set, "name=value: a parameter of the sequence");
    run_command->add_option("--before", run.before,
                            "folder of an earlier run of this unit, to stand beside this one");
    run_command->add_option("--hints", run.hints,
                            "the shop's own rules for hints, laid over those that ship");
    run_command->add_option("--runs", run.runs, "folder that the run's folder is made in");
    run_command->add_flag("--plan", run.plan,
                          "drive nothing; print the steps, their time, heat and prompts");
    run_command->add_flag("--assume-prompts", run.assume_prompts,
                          "answer every prompt with done; simulated benches only");
    run_command->add_flag("--power-as-received", run.power_as_received,
                          "allow more than 1 W at stage as_received");

    run_command->add_flag("--no-wait", run.no_wait,
                          "hand the run to afterloadd, print its place in the queue, and leave");

    AnalyzeOptions analyze;
    int highest_order = 20;
    CLI::App* analyze_command = app.add_subcommand("analyze", "figures from recordings");
    analyze_command->add_option("captures", analyze.captures, "WAV, RF64 or FLAC files")
        ->required();
    analyze_command->add_option("--signal", typed.signal,
                                "what was played: tone, two-tone, silence, sweep:STIMULUS.wav or "
                                "multitone:STIMULUS.wav");
    analyze_command->add_option("--full-scale", typed.full_scale,
                                "volts peak at digital full scale, one or a list");
    analyze_command->add_option("--load", typed.load, "ohms the voltage stood across");
    analyze_command->add_option("--mains", typed.mains, "50Hz or 60Hz: tells hum apart");
    analyze_command->add_option("--bandwidth", typed.bandwidth, "such as 20Hz..20kHz");
    analyze_command->add_option("--frequency", typed.frequency,
                                "of the tone; otherwise the strongest line");
    analyze_command->add_option("--highest-order", highest_order, "highest harmonic counted")
        ->check(CLI::Range(2, 40));

    analyze_command->add_flag("--watch", analyze.settings.watch,
                              "read in blocks, any length, and list what happened in it");

    ShowOptions show;
    CLI::App* show_command = app.add_subcommand("show", "a run's sheet, or one figure's budget");
    show_command->add_option("run", show.run, "the run's folder, or its name as list shows it")
        ->required();
    show_command->add_option(
        "figure", show.figure,
        "a figure's id, or part of it; or hints: where to look first, and what "
        "speaks for and against it");
    show_command->add_option("--hints", show.hints, "rules for hints, laid over those that ship");

    ReportOptions report;
    CLI::App* report_command = app.add_subcommand("report", "make a run's report anew");
    report_command->add_option("run", report.run, "the run's folder, or its name as list shows it")
        ->required();
    report_command->add_option(
        "--before", report.before,
        "folder of an earlier run of the unit, to stand beside it from now on");
    report_command->add_option("--hints", report.hints,
                               "rules for hints, laid over those that ship");

    ReplayOptions replay;
    CLI::App* replay_command =
        app.add_subcommand("replay", "compute all figures again from the stored records");
    replay_command->add_option("run", replay.run, "the run's folder, or its name as list shows it")
        ->required();

    CompareOptions compared;
    CLI::App* compare_command = app.add_subcommand(
        "compare", "the same unit before and after: each figure's difference, and if it is real");
    compare_command
        ->add_option("runs", compared.runs, "the runs' folders or names, the first is before")
        ->required()
        ->expected(2, 20);
    compare_command->add_flag("--other-units", compared.other_units,
                              "the runs may be of different units");
    compare_command->footer(
        "What both runs share of the rig's calibration drops out of a difference; what the rig\n"
        "may have added or hidden counts on both sides, and so does setting up again. Three runs\n"
        "of one stage give the shop's own repeatability.\n"
        "Exit status: 0 nothing got worse, 1 a figure did, 2 nothing could be compared, 65 a\n"
        "folder is not whole.");

    RetestOptions retested;
    std::string retested_stage;
    CLI::App* retest_command = app.add_subcommand(
        "retest", "measure again only what failed or was left open, with what it depends on");
    retest_command
        ->add_option("run", retested.run, "the run's folder, or its name as list shows it")
        ->required();
    retest_command->add_option("--bench", retested.bench,
                               "the bench file: carried out here; without it by afterloadd");
    retest_command->add_option("--stage", retested_stage,
                               "otherwise that of the run, or repaired where it was as received");
    retest_command->add_option("--job", retested.job, "ticket or job file, else those of the run");
    retest_command->add_option("--runs", retested.runs, "folder that the run's folder is made in");
    retest_command->add_flag("--plan", retested.plan,
                             "drive nothing; print the steps, their time, heat and prompts");
    retest_command->add_flag("--assume-prompts", retested.assume_prompts,
                             "answer every prompt with done; simulated benches only");
    retest_command->add_flag("--no-wait", retested.no_wait,
                             "hand the run to afterloadd, print its place in the queue, and leave");
    retest_command->footer(
        "Sequence, sheets and parameters are those that the run used. The new run says which run "
        "it\n"
        "is a retest of, and what was not measured again and stands as it was.");

    RescoreOptions rescored;
    CLI::App* rescore_command = app.add_subcommand(
        "rescore", "score an old run against a changed rating sheet, without measuring again");
    rescore_command
        ->add_option("run", rescored.run, "the run's folder, or its name as list shows it")
        ->required();
    rescore_command->add_option("--unit", rescored.unit, "the changed rating sheet")->required();
    rescore_command->add_option("--house", rescored.house,
                                "the shop's own limits, where they changed too");
    rescore_command->footer(
        "Written beside run.json, which stays as it is: rescored-STAMP.json with the old verdicts\n"
        "beside the new. Exit status: as of the run, by the new verdict; 65 where the folder is "
        "not\n"
        "whole.");

    NoteOptions noted;
    CLI::App* note_command =
        app.add_subcommand("note", "a person's word of a run, kept beside it with name and time");
    note_command->add_option("run", noted.run, "the run's folder, or its name as list shows it")
        ->required();
    note_command->add_option("text", noted.text, "what to say, in quotes")->required();
    note_command->add_option("--by", noted.by, "who says it; otherwise who is logged in");

    AcceptOptions accepted;
    CLI::App* accept_command = app.add_subcommand(
        "accept", "accept a figure as it is, with a reason; its verdict stays what it is");
    accept_command
        ->add_option("run", accepted.run, "the run's folder, or its name as list shows it")
        ->required();
    accept_command->add_option("figure", accepted.figure, "the figure's id, or part of it")
        ->required();
    accept_command->add_option("--because", accepted.because, "why, in quotes")->required();
    accept_command->add_option("--by", accepted.by, "who says it; otherwise who is logged in");

    ExportOptions exported;
    bool as_csv = false;
    bool as_junit = false;
    bool as_openmetrics = false;
    CLI::App* export_command = app.add_subcommand(
        "export", "a run for other programs: --json, --csv, --junit or --openmetrics");
    export_command
        ->add_option("run", exported.run, "the run's folder, or its name as list shows it")
        ->required();
    export_command->add_flag("--csv", as_csv, "the figures as a table (RFC 4180)");
    export_command->add_flag("--junit", as_junit,
                             "JUnit XML: open verdicts are skipped, fails are failures");
    export_command->add_flag("--openmetrics", as_openmetrics, "OpenMetrics text, in SI units");
    ContinueOptions go_on;
    CLI::App* continue_command = app.add_subcommand(
        "continue", "go on with a soak that was stopped, as a new segment of the same run");
    continue_command->add_option("run", go_on.run, "the run's folder, or its name as list shows it")
        ->required();
    continue_command->add_flag("--assume-prompts", go_on.assume_prompts,
                               "answer every prompt with done; simulated benches only");

    CauseOptions cause;
    CLI::App* cause_command =
        app.add_subcommand("cause", "what a soak that turned everything off was caused by");
    cause_command->add_option("run", cause.run, "the run's folder, or its name as list shows it")
        ->required();
    cause_command->add_option("--because", cause.because, "what was found, and what was done")
        ->required();
    cause_command->add_option("--by", cause.by, "who found it")->required();

    InstrumentsOptions present;
    CLI::App* instruments_command =
        app.add_subcommand("instruments", "what is connected, and what each can do");
    instruments_command->add_option("--device", present.devices,
                                    "a device of ALSA to look at beside the machine's cards");
    instruments_command->add_option("--at", present.addresses,
                                    "an address to ask: tcp://HOST:PORT, serial:/dev/PATH");

    NewBenchOptions fresh;
    CLI::App* new_command = app.add_subcommand("new", "a file to begin with");
    new_command->require_subcommand(1);
    CLI::App* new_bench_command = new_command->add_subcommand(
        "bench", "a bench file, from what is connected and a few questions");
    new_bench_command->add_option("file", fresh.file, "the bench file to write")->required();
    new_bench_command->add_option("--device", fresh.devices,
                                  "a device of ALSA to look at beside the machine's cards");
    new_bench_command->add_option("--at", fresh.addresses,
                                  "an address to ask: tcp://HOST:PORT, serial:/dev/PATH");

    NewRatingOptions fresh_rating;
    CLI::App* new_rating_command = new_command->add_subcommand(
        "rating", "a rating sheet, typed as the service sheet prints it");
    new_rating_command->add_option("file", fresh_rating.file, "the rating sheet to write")
        ->required();
    new_rating_command->add_option(
        "--library", fresh_rating.libraries,
        "a folder of the shop's rating sheets to look through first; otherwise the file's own "
        "folder and afterload/ratings below $XDG_CONFIG_HOME");
    NewJobOptions fresh_job;
    CLI::App* new_job_command = new_command->add_subcommand(
        "job", "a job file: complaint, cause, work, parts, adjustments, safety tests");
    new_job_command->add_option("file", fresh_job.file, "the job file to write")->required();
    NewSequenceOptions fresh_sequence;
    CLI::App* new_sequence_command = new_command->add_subcommand(
        "sequence", "a sequence to begin with, from one that ships or from a template");
    new_sequence_command->add_option("file", fresh_sequence.file, "the sequence file to write")
        ->required();

    SimulateOptions simulate;
    CLI::App* simulate_command = app.add_subcommand(
        "simulate", "serve the wire instruments of a simulated bench, in real time");
    simulate_command->add_option("bench", simulate.bench, "the bench file")->required();
    simulate_command
        ->add_option(
            "--port", simulate.port,
            "TCP port of the source; meter, relays, digitiser and load take the next four; 0: any")
        ->check(CLI::Range(0, 65531));

    CalibrateOptions calibration;
    std::string meter_uncertainty = "0.5 %";
    std::string ohms_uncertainty = "0.5 %";
    CLI::App* calibrate_command = app.add_subcommand(
        "calibrate", "levels of source and ranges, from one meter and a loop; guided");
    calibrate_command->add_option("bench", calibration.bench, "the bench file")->required();
    calibrate_command->add_option("--meter", calibration.meter, "name of the meter");
    calibrate_command->add_option(
        "--meter-uncertainty", meter_uncertainty,
        "its standard uncertainty (k = 1) at 333 Hz: half of what its makers promise");
    calibrate_command->add_option("--ohms-uncertainty", ohms_uncertainty,
                                  "the same of a load's resistance, its leads taken off");

    RigCheckOptions rig;
    CLI::App* rig_check_command =
        app.add_subcommand("rig-check", "what the bench can resolve today, through a loop");
    rig_check_command->add_option("bench", rig.bench, "the bench file")->required();

    const CLI::App* stop_command = app.add_subcommand(
        "stop", "everything off that drives or switches on a wire, now; the run ends");

    StatusOptions state;
    const CLI::App* status_command =
        app.add_subcommand("status", "what afterloadd is doing: bench, run, prompt, queue");
    WatchOptions watched;
    CLI::App* watch_command = app.add_subcommand("watch", "what happens at afterloadd, as it does");
    watch_command->add_option("--entry", watched.entry,
                              "leave when this entry of the queue is over, with its status");
    watch_command->add_option("--since", watched.since, "begin behind the event with this id");
    AnswerOptions answered;
    CLI::App* answer_command =
        app.add_subcommand("answer", "answer the prompt that waits at afterloadd");
    answer_command->add_option("word", answered.word, "done, skip or stop; else asked here")
        ->check(CLI::IsMember({"done", "skip", "stop"}));
    answer_command->add_option("--text", answered.text, "a reading that is asked for: 12 mV");
    answer_command->add_option("--serial", answered.serial,
                               "the unit with this serial is wired up: its run may begin");
    CancelOptions cancelled;
    CLI::App* cancel_command =
        app.add_subcommand("cancel", "take a run out of the queue before it begins");
    cancel_command->add_option("entry", cancelled.entry, "such as q12")->required();

    ListOptions listed;
    CLI::App* list_command = app.add_subcommand("list", "the runs in a folder, newest first");
    CLI::App* search_command = app.add_subcommand("search", "runs in which a text stands");
    search_command
        ->add_option("text", listed.query.text,
                     "stands in serial, model, job, sequence, a figure that failed, or what was "
                     "written of the run: cause, work, parts, notes")
        ->required();
    for (CLI::App* command : {list_command, search_command}) {
        command->add_option(
            "--runs", listed.runs,
            "folder that holds the runs' folders; else afterloadd's record, or runs");
        command->add_option("--serial", listed.query.serial, "serial number of the unit");
        command->add_option("--model", listed.query.model, "model of the unit");
        command->add_option("--job", listed.query.job, "ticket of the repair, or its job file");
        command->add_option("--verdict", listed.query.verdict, "pass, fail, inconclusive, stopped")
            ->check(CLI::IsMember({"pass", "fail", "inconclusive", "stopped"}));
        command->add_option("--state", listed.query.state, "running, done, stopped, interrupted")
            ->check(CLI::IsMember({"running", "done", "stopped", "interrupted"}));
        command->add_option("--stage", listed.query.stage, "as_received, repaired, soaked, cold")
            ->check(CLI::IsMember({"as_received", "repaired", "soaked", "cold"}));
        command->add_option("--failed", listed.query.failed,
                            "stands in the name of a figure that failed: THD");
        command->add_option("--said", listed.query.said,
                            "stands in what was written: complaint, cause, work, parts, notes");
        command->add_option("--since", listed.query.since, "a date, such as 2026-03-04");
        command->add_option("--until", listed.query.until,
                            "a date, month or year, with the whole of it: 2026-03");
        command->add_option("--most", listed.query.most, "no more lines than this")
            ->check(CLI::Range(1, 100000));
    }

    StatisticsOptions statistics;
    CLI::App* statistics_command = app.add_subcommand(
        "statistics", "what the units of a model read: middle, spread, and where one unit stands");
    statistics_command->add_option("model", statistics.model, "such as H40")->required();
    statistics_command->add_option("--serial", statistics.serial, "the unit to place among them");
    statistics_command
        ->add_option("--stage", statistics.stage,
                     "runs of one stage; otherwise those as repaired, soaked or cold")
        ->check(CLI::IsMember({"as_received", "repaired", "soaked", "cold"}));
    statistics_command->add_option(
        "--golden", statistics.golden,
        "serial of the shop's golden box: its runs tell what the rig drifted");
    statistics_command->footer(
        "Each unit counts once, by its last reading of a figure. What the rig drifted, as its "
        "golden\n"
        "box tells, is taken off readings that scale with it: volts, watts, gain, response. It is\n"
        "never taken off distortion, noise or separation.");

    HistoryOptions past;
    CLI::App* history_command = app.add_subcommand(
        "history", "a unit that comes back: the same fault, the same channel, the same path?");
    history_command->add_option("serial", past.serial, "serial number of the unit")->required();
    history_command->add_option("--model", past.model, "where two models have that serial");
    for (CLI::App* command : {statistics_command, history_command}) {
        command->add_option("--runs", command == history_command ? past.runs : statistics.runs,
                            "folder that holds the runs' folders; else afterloadd's, or runs");
    }

    ReindexOptions reindexed;
    CLI::App* reindex_command =
        app.add_subcommand("reindex", "make the index of the runs anew from their folders");
    reindex_command->add_option("--runs", reindexed.runs, "folder that holds the runs' folders");

    try {
        app.parse(count, words);
        options.socket = socket;
        if (*check_command) {
            options.command = check;
        } else if (*run_command) {
            run.stage = stage_named(typed.stage);
            run.set = settings(typed.set);
            run.socket = socket;
            options.command = run;
        } else if (*analyze_command) {
            const bool watch = analyze.settings.watch;
            analyze.settings = capture_settings(typed, highest_order);
            analyze.settings.watch = watch;
            if (watch && analyze.settings.signal != CaptureSettings::Signal::tone) {
                throw CLI::ValidationError("--watch", "silence has no level to watch: play a tone");
            }
            options.command = analyze;
        } else if (*show_command) {
            options.command = show;
        } else if (*report_command) {
            options.command = report;
        } else if (*compare_command) {
            options.command = compared;
        } else if (*retest_command) {
            if (!retested_stage.empty()) {
                retested.stage = stage_named(retested_stage);
            }
            retested.socket = socket;
            options.command = retested;
        } else if (*rescore_command) {
            options.command = rescored;
        } else if (*note_command) {
            options.command = noted;
        } else if (*accept_command) {
            options.command = accepted;
        } else if (*export_command) {
            if (int{as_csv} + int{as_junit} + int{as_openmetrics} + int{options.output.json} != 1) {
                throw CLI::ValidationError("export",
                                           "say one of --json, --csv, --junit and --openmetrics");
            }
            exported.format = as_csv           ? ExportOptions::Format::csv
                              : as_junit       ? ExportOptions::Format::junit
                              : as_openmetrics ? ExportOptions::Format::openmetrics
                                               : ExportOptions::Format::json;
            options.command = exported;
        } else if (*instruments_command) {
            options.command = present;
        } else if (*new_bench_command) {
            options.command = fresh;
        } else if (*new_rating_command) {
            options.command = fresh_rating;
        } else if (*new_job_command) {
            options.command = fresh_job;
        } else if (*new_sequence_command) {
            options.command = fresh_sequence;
        } else if (*simulate_command) {
            options.command = simulate;
        } else if (*calibrate_command) {
            calibration.meter_u_k1 = quantity(meter_uncertainty, Dimension::ratio,
                                              "--meter-uncertainty", "an uncertainty");
            calibration.ohms_u_k1 = quantity(ohms_uncertainty, Dimension::ratio,
                                             "--ohms-uncertainty", "an uncertainty");
            options.command = calibration;
        } else if (*rig_check_command) {
            options.command = rig;
        } else if (*list_command || *search_command) {
            listed.socket = socket;
            options.command = listed;
        } else if (*statistics_command) {
            statistics.socket = socket;
            options.command = statistics;
        } else if (*history_command) {
            past.socket = socket;
            options.command = past;
        } else if (*reindex_command) {
            options.command = reindexed;
        } else if (*continue_command) {
            options.command = go_on;
        } else if (*cause_command) {
            options.command = cause;
        } else if (*stop_command) {
            options.command = StopOptions{socket};
        } else if (*status_command) {
            options.command = StatusOptions{socket};
        } else if (*watch_command) {
            watched.socket = socket;
            options.command = watched;
        } else if (*answer_command) {
            answered.socket = socket;
            options.command = answered;
        } else if (*cancel_command) {
            cancelled.socket = socket;
            options.command = cancelled;
        } else {
            options.command = replay;
        }
    } catch (const CLI::CallForHelp&) {
        const CLI::App* asked = &app;
        while (!asked->get_subcommands().empty()) {
            asked = asked->get_subcommands().front();
        }
        options.command = NothingToDo{asked->help(), 0};
    } catch (const CLI::CallForVersion& version) {
        options.command = NothingToDo{std::string{version.what()} + "\n", 0};
    } catch (const CLI::ParseError& error) {
        options.command =
            NothingToDo{"afterload: " + with_nearest_command(app, count, words, error.what()) +
                            "\nafterload --help says what there is\n",
                        exit_usage};
    }
    return options;
}

}  // namespace afterload::runner
