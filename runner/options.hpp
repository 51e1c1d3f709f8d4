/// The command line in memory; the one door to CLI11.
#pragma once

#include "runner/capture/capture_analysis.hpp"
#include "runner/papers/run_document.hpp"
#include "runner/record/run_query.hpp"

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
    Stage stage = Stage::repaired;
    std::vector<std::pair<std::string, std::string>> set;
    std::string runs = "runs";
    bool plan = false;  ///< tell what would be done, and drive nothing
    bool assume_prompts = false;
    bool power_as_received = false;
};

struct AnalyzeOptions {
    std::vector<std::string> captures;
    CaptureSettings settings;
};

struct ShowOptions {
    std::string run;
    std::string figure;  ///< empty: the whole sheet
};

struct ReportOptions {
    std::string run;
};

struct ReplayOptions {
    std::string run;
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

struct SimulateOptions {
    std::string bench;
    int port = 0;  ///< of the source; meter and relays follow. 0: any that are free
};

struct CalibrateOptions {
    std::string bench;
    std::string meter = "meter";
    double meter_u_k1 = 0.005;  ///< relative
};

struct RigCheckOptions {
    std::string bench;
};

/// Everything on a wire off, whatever drives it.
struct StopOptions {};

/// The runs in a folder, newest first.
struct ListOptions {
    std::string runs = "runs";
    RunQuery query;
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
                 CalibrateOptions, RigCheckOptions, StopOptions, ListOptions, ReindexOptions>;

struct Options {
    OutputOptions output;
    Command command;
};

/// Reads the words of the command line. Wrong words give NothingToDo with one line that says what
/// is wrong and which word is near, and exit status 64.
[[nodiscard]] Options read_options(int count, const char* const* words);

}  // namespace afterload::runner
