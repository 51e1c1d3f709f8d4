/// A run as it stands in memory: what run.json, figures.csv, the sheet and the report are made
/// from.
#pragma once

#include "analysis/capture_fault.hpp"
#include "analysis/figure.hpp"
#include "analysis/rating.hpp"
#include "analysis/verdict.hpp"
#include "runner/papers/bench_time.hpp"
#include "runner/papers/driven_as.hpp"
#include "runner/papers/retest_of.hpp"
#include "runner/papers/soak_document.hpp"
#include "sequences/bench_file.hpp"

#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace afterload::runner {

enum class Stage { as_received, repaired, soaked, cold };
[[nodiscard]] std::string_view name(Stage stage);  ///< "as_received"
[[nodiscard]] std::optional<Stage> stage(std::string_view name);

enum class RunState { running, done, stopped, interrupted };
[[nodiscard]] std::string_view name(RunState state);
[[nodiscard]] std::optional<RunState> run_state(std::string_view name);

enum class RunVerdict { pass, fail, inconclusive, stopped };
[[nodiscard]] std::string_view name(RunVerdict verdict);
[[nodiscard]] std::optional<RunVerdict> run_verdict(std::string_view name);

/// A figure with the rating it was held against, if any, and the verdict.
struct ScoredFigure {
    std::string id;     ///< unique in the run: "rated-output/thd/997Hz/left"
    std::string label;  ///< short, for a sheet: "THD 1 W, 1 kHz"
    Figure figure;
    std::optional<RatedFigure> rating;
    std::optional<analysis::Verdict> verdict;  ///< absent: not scored
    std::string record;  ///< path of the one record behind it; empty where several are
};

struct StoredRecord {
    std::string path;  ///< within the run folder: "records/004-1.flac"
    std::string sha256;
    bool sound = true;
    bool unstable = false;   ///< the level moved by itself here and in the record before
    std::string supersedes;  ///< of a further record: path of the one in whose place it counts
    std::vector<std::string> asked_by;  ///< of a further record: ids of the figures it was made for
    std::vector<CaptureFault> faults;
    DrivenAs driven;
    std::vector<VoltsPeak> full_scale;  ///< calibration, one a channel
    SampleRate rate;
    int bits = 24;
};

/// Whose an event is.
enum class Blame { unit, rig, unit_or_lead, unit_or_mains };
[[nodiscard]] std::string_view name(Blame blame);
[[nodiscard]] std::optional<Blame> blame(std::string_view name);

struct RunEvent {
    std::string kind;     ///< "level", "gap"
    int channel = 0;      ///< from 1; 0 all
    Seconds since_start;  ///< of the run
    double size = 0.0;
    std::string unit;  ///< "dB", "s"
    bool timeline_intact = true;
    Blame blame = Blame::rig;
    std::string note;
    // Of a soak.
    Seconds duration;                 ///< zero: not told
    std::string reaction;             ///< "flag", "hold", "kill"; empty: none
    std::optional<double> heat_sink;  ///< degrees Celsius, of the hotter sensor
    std::string record;  ///< path of the record that holds it, some seconds before and after
};

struct Retake {
    Seconds since_start;
    std::vector<CaptureFault> faults;
};

/// A slow reading a step took.
struct SlowReading {
    std::string quantity;
    Channels channel = Channels::both;
    double value = 0.0;
    double u_k1 = 0.0;
    std::string source;
    bool gate = false;
    std::string outcome;  ///< of a gate: "within 30 mV", else empty
};

struct StepResult {
    std::string name;
    std::string group;  ///< heading it stands under: "Direct path", "Tone path"
    std::string
        group_conditions;  ///< said once in the heading: "line in, volume maximum, 8.00 ohm"
    Seconds started;       ///< since the start of the run
    Seconds ended;
    BenchTime bench_time;
    std::string skipped;  ///< why it was not done; empty if it was
    std::vector<SlowReading> readings;
    std::vector<StoredRecord> records;
    std::vector<Retake> retakes;
    std::vector<RunEvent> events;
    std::vector<ScoredFigure> figures;
    std::optional<SoakResult> soak;  ///< of a step that soaks; its event captures are its records
    std::string within;  ///< name of the soak that it was carried out within; empty: none
    std::string moment;  ///< of that soak: "start", "0:30", "end"
};

struct UsedFile {
    std::string role;  ///< "rating", "house", "bench", "sequence", "job"
    std::string path;  ///< within the run folder
    std::string sha256;
};

/// Points of a plot, stored so that a report can be drawn without the records.
struct SpectrumPlot {
    std::string title;
    int channel = 1;
    double fundamental_hz = 0.0;
    double fundamental_volts = 0.0;    ///< rms
    std::vector<double> frequency_hz;  ///< thinned; min and max of each column
    std::vector<double> low_db;        ///< re fundamental
    std::vector<double> high_db;
};

struct RunDocument {
    std::string id;
    std::string job;
    Stage stage = Stage::repaired;
    RunState state = RunState::running;
    std::string started;  ///< RFC 3339, UTC, milliseconds
    std::string ended;
    Seconds lasted;  ///< on the bench's clock
    std::string build;
    std::optional<sequences::SimulationEntry>
        simulation;  ///< seeds and faults of a simulated bench
    UnitDescription unit;
    std::string serial;
    sequences::BenchFile bench;
    std::string sequence_name;
    std::string sequence_title;
    std::map<std::string, std::string> parameters;
    std::vector<UsedFile> files;
    RunVerdict verdict = RunVerdict::inconclusive;
    std::map<std::string, int> counts;    ///< verdict names, "assumed", "not_tested"
    std::vector<std::string> not_tested;  ///< in words
    std::string stop_reason;              ///< why it stopped; empty for a run that ended by itself
    std::string decision_rule;            ///< printed on the report
    std::vector<StepResult> steps;
    std::vector<SpectrumPlot> spectra;
    std::vector<std::string> notes;
    bool records_kept = true;
    std::optional<RetestOf> retest;  ///< of a run that measured again what an earlier one left open
};

/// The exit status of the command line for this run (design: 0 pass, 1 fail, 2 inconclusive, 3
/// stopped).
[[nodiscard]] int exit_status(const RunDocument& run);

/// Fills `verdict` and `counts` from the figures and the state: fails when any figure fails; passes
/// when at least one figure was scored and every scored one passes or passes conditionally, those
/// not comparable left aside, and no soak saw anything that may be the unit's; stopped when the run
/// was stopped; else inconclusive.
void conclude(RunDocument& run);

/// Events of soaks that were at least flagged and that may be the unit's: a person looks at them.
[[nodiscard]] std::vector<const RunEvent*> open_events(const RunDocument& run);

}  // namespace afterload::runner
