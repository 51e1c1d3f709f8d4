/// The command line in memory; the one door to CLI11.
#pragma once

#include "runner/capture/capture_analysis.hpp"
#include "runner/papers/run_document.hpp"
#include "runner/record/run_query.hpp"

#include <cstdint>
#include <optional>
#include <string>
#include <utility>
#include <variant>
#include <vector>

namespace afterload::runner {

/// How anything is printed.
struct OutputOptions {
    bool json = false;
    bool quiet = false;
    std::string colour = "auto";  ///< auto, always, never
};

struct CheckOptions {
    std::vector<std::string> files;
};

struct RunOptions {
    std::string sequence;
    std::string unit;
    std::string house;  ///< empty: none
    std::string bench;
    std::string job;
    std::string serial;
    std::string before;  ///< folder of an earlier run of the unit; empty: none
    std::string hints;   ///< the shop's own rules for hints, over those that ship; empty: none
    std::string retest;  ///< folder of the run whose open figures are measured again; empty: none
    Stage stage = Stage::repaired;
    std::vector<std::pair<std::string, std::string>> set;
    std::string runs = "runs";
    bool plan = false;  ///< tell what would be done, and drive nothing
    bool assume_prompts = false;
    bool power_as_received = false;
    bool no_wait = false;  ///< hand the run to the daemon and leave
    std::string socket;    ///< of the daemon; empty: looked for
};

struct AnalyzeOptions {
    std::vector<std::string> captures;
    CaptureSettings settings;
};

struct ShowOptions {
    std::string run;
    std::string figure;  ///< empty: the whole sheet; "hints": those, with what speaks for them
    std::string hints;   ///< rules for hints, over those that ship; empty: the run's own, if any
};

struct ReportOptions {
    std::string run;
    std::string before;  ///< folder of an earlier run of the unit; empty: the run's own, if any
    std::string hints;   ///< rules for hints, over those that ship; empty: the run's own, if any
};

struct ReplayOptions {
    std::string run;
};

/// Two or more runs of one unit, held against the first.
struct CompareOptions {
    std::vector<std::string> runs;
    bool other_units = false;  ///< the runs may be of different units
};

/// What a run left open, measured again with what it depends on; the files are those of the run.
struct RetestOptions {
    std::string run;
    std::string bench;           ///< empty: afterloadd's
    std::string job;             ///< empty: that of the run
    std::optional<Stage> stage;  ///< absent: that of the run, repaired where it was as received
    std::string runs = "runs";
    bool plan = false;
    bool assume_prompts = false;
    bool no_wait = false;
    std::string socket;
};

/// An old run against a changed rating sheet.
struct RescoreOptions {
    std::string run;
    std::string unit;
    std::string house;  ///< empty: the run's own
};

/// A person's word of a run.
struct NoteOptions {
    std::string run;
    std::string text;
    std::string by;  ///< empty: who is logged in
};

/// A person's word of one figure, beside its verdict.
struct AcceptOptions {
    std::string run;
    std::string figure;  ///< its id, or a part that no other has
    std::string because;
    std::string by;
};

/// A soak that was stopped goes on, as a new segment of the same run; a person asks for it.
struct ContinueOptions {
    std::string run;
    bool assume_prompts = false;
};

/// What a person found after a soak turned everything off.
struct CauseOptions {
    std::string run;
    std::string because;
    std::string by;
};

/// A run in the format of another program.
struct ExportOptions {
    enum class Format { json, csv, junit, openmetrics };
    std::string run;
    Format format = Format::json;
};

struct InstrumentsOptions {
    std::vector<std::string> devices;    ///< of ALSA, beside the cards of the machine
    std::vector<std::string> addresses;  ///< on wires, asked who they are
};

struct NewBenchOptions {
    std::string file;
    std::vector<std::string> devices;
    std::vector<std::string> addresses;
};

/// A rating sheet by asking; the shop's sheets are looked through first.
struct NewRatingOptions {
    std::string file;
    std::vector<std::string> libraries;  ///< folders of rating sheets; empty: the usual ones
};

/// A job file by asking.
struct NewJobOptions {
    std::string file;
};

/// A sequence to begin with, from one that ships or from a template.
struct NewSequenceOptions {
    std::string file;
};

struct SimulateOptions {
    std::string bench;
    int port = 0;  ///< of the source; meter and relays follow. 0: any that are free
};

struct CalibrateOptions {
    std::string bench;
    std::string meter = "meter";
    double meter_u_k1 = 0.005;  ///< relative
    double ohms_u_k1 = 0.005;   ///< relative
};

struct RigCheckOptions {
    std::string bench;
};

/// Everything on a wire off, whatever drives it; the daemon's run ends.
struct StopOptions {
    std::string socket;
};

/// What the daemon is doing.
struct StatusOptions {
    std::string socket;
};

/// The daemon's events as they come.
struct WatchOptions {
    std::string socket;
    std::string entry;                   ///< until this entry of the queue is over; empty: for ever
    std::optional<std::uint64_t> since;  ///< id of the last event that was seen
};

/// An answer to the prompt that waits, or the serial of the unit that is wired up.
struct AnswerOptions {
    std::string socket;
    std::string word;  ///< done, skip, stop; empty: asked at the terminal
    std::string text;  ///< a reading that is due
    std::string serial;
};

/// Takes an entry out of the daemon's queue.
struct CancelOptions {
    std::string socket;
    std::string entry;
};

/// The runs in a folder, newest first.
struct ListOptions {
    std::string runs;  ///< empty: of the daemon where one answers, else runs
    std::string socket;
    RunQuery query;
};

/// What the units of a model read, and where one of them stands.
struct StatisticsOptions {
    std::string model;
    std::string serial;  ///< empty: no unit is placed
    std::string stage;   ///< empty: repaired, soaked and cold
    std::string golden;  ///< serial of the golden box; empty: none
    std::string runs;    ///< as of ListOptions
    std::string socket;
};

/// What a unit had before.
struct HistoryOptions {
    std::string serial;
    std::string model;  ///< empty: the one model that has such a serial
    std::string runs;   ///< as of ListOptions
    std::string socket;
};

struct ReindexOptions {
    std::string runs = "runs";
};

/// Help or the version was asked for, or the words were wrong: what to print and the status.
struct NothingToDo {
    std::string text;
    int exit_status = 0;
};

using Command =
    std::variant<NothingToDo, CheckOptions, RunOptions, AnalyzeOptions, ShowOptions, ReportOptions,
                 ReplayOptions, InstrumentsOptions, SimulateOptions, NewBenchOptions,
                 NewRatingOptions, NewJobOptions, NewSequenceOptions, CalibrateOptions,
                 RigCheckOptions, StopOptions, ListOptions, ReindexOptions, StatusOptions,
                 WatchOptions, AnswerOptions, CancelOptions, CompareOptions, RescoreOptions,
                 NoteOptions, AcceptOptions, ExportOptions, ContinueOptions, CauseOptions,
                 StatisticsOptions, HistoryOptions, RetestOptions>;

struct Options {
    OutputOptions output;
    std::string socket;  ///< of the daemon; empty: looked for
    Command command;
};

/// Reads the words of the command line. Wrong words give NothingToDo with one line that says what
/// is wrong and which word is near, and exit status 64.
[[nodiscard]] Options read_options(int count, const char* const* words);

}  // namespace afterload::runner
