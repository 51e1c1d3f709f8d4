#include "runner/commands.hpp"
#include "runner/console.hpp"
#include "runner/exit_status.hpp"
#include "runner/mistakes.hpp"
#include "runner/open_bench.hpp"
#include "runner/papers/json_text.hpp"
#include "runner/papers/run_json.hpp"
#include "runner/papers/sheet.hpp"
#include "runner/plan/plan_text.hpp"
#include "runner/rig/rig_check.hpp"
#include "runner/rig/rig_store.hpp"
#include "runner/run.hpp"
#include "runner/run_inputs.hpp"
#include "runner/run_to_end.hpp"
#include "runner/stop_signal.hpp"
#include "runner/terminal_progress.hpp"
#include "runner/wall_clock.hpp"

#include <fmt/format.h>

#include <atomic>
#include <iostream>
#include <memory>

namespace afterload::runner {
namespace {

std::string folder_name(const RunPlan& plan) {
    const auto plain = [](const std::string& text) {
        std::string kept;
        for (const char letter : text) {
            const bool fine = (letter >= 'a' && letter <= 'z') ||
                              (letter >= 'A' && letter <= 'Z') ||
                              (letter >= '0' && letter <= '9') || letter == '-';
            kept += fine ? letter : '-';
        }
        return kept.substr(0, 40);
    };
    std::string name;
    for (const std::string& part : {plan.job, plan.serial}) {
        name += part.empty() ? "" : plain(part) + "-";
    }
    return name + short_stamp(plan.started);
}

struct WholeRun {
    RunDocument document;
    std::string folder;
};
struct Refusal {
    std::string why;
    int exit_status = exit_no_device;
};

/// The part of the rig check that needs no hands. A level that would be wrong stops the run before
/// it begins; the rest is noted.
instruments::Task<tl::expected<void, Refusal>> rig_is_fit(RunPlan& plan, instruments::Bench& bench,
                                                          const std::atomic<bool>& stop) {
    if (plan.bench.simulated && plan.bench.checked.empty()) {
        co_return tl::expected<void, Refusal>{};
    }
    Driver driver{bench, plan.bench, stop};
    RigCheckSettings settings;
    settings.mixer = mixer_now(plan.bench);
    const auto findings = co_await check_rig_unattended(driver, std::move(settings));
    if (!findings) {
        co_return tl::unexpected<Refusal>(Refusal{findings.error().what, exit_no_device});
    }
    for (const RigFinding& finding : *findings) {
        if (finding.stops) {
            co_return tl::unexpected<Refusal>(
                Refusal{plan.bench.path + ": " + finding.what, exit_no_device});
        }
        plan.notes.push_back("rig: " + finding.what);
    }
    for (std::string& note : age_notes(plan.bench, plan.started)) {
        plan.notes.push_back("rig: " + std::move(note));
    }
    co_return tl::expected<void, Refusal>{};
}

/// Opens the bench, carries the plan out in a folder of its own and lets the bench go.
instruments::Task<tl::expected<WholeRun, Refusal>> whole_run(RunPlan plan, std::string runs,
                                                             Operator& person, Progress& progress,
                                                             const std::atomic<bool>& stop) {
    const auto& unit = *plan.sheet.unit;
    sequences::BenchFile file = plan.bench;
    auto opened =
        co_await open_bench(std::move(file), unit.mains_voltage, unit.mains_frequency, person);
    if (!opened) {
        co_return tl::unexpected<Refusal>(Refusal{opened.error(), exit_no_device});
    }
    for (sequences::WireEntry& entry : plan.bench.instruments) {
        entry.identity = opened->identities[entry.name];
    }
    plan.started = wall_clock_stamp();
    if (auto fit = co_await rig_is_fit(plan, *opened->bench, stop); !fit) {
        co_return tl::unexpected<Refusal>(std::move(fit.error()));
    }
    // Only now: a bench that does not open leaves no folder behind.
    plan.id = folder_name(plan);
    const auto folder = RunFolder::make(runs, plan.id);
    if (!folder) {
        co_return tl::unexpected<Refusal>(Refusal{folder.error(), exit_cannot_write});
    }
    WholeRun whole;
    whole.folder = folder->path();
    whole.document =
        co_await carry_out(std::move(plan), *opened->bench, person, progress, *folder, stop);
    co_return whole;
}

int carry_out_plan(RunPlan plan, const RunOptions& command, const OutputOptions& output) {
    AssumedOperator assumed;
    TerminalOperator asked{std::cin, std::cerr};
    Operator& person =
        command.assume_prompts ? static_cast<Operator&>(assumed) : static_cast<Operator&>(asked);
    NoProgress no_progress;
    TerminalProgress lines{error_terminal(output)};
    Progress& progress = output.quiet || output.json ? static_cast<Progress&>(no_progress)
                                                     : static_cast<Progress&>(lines);
    const std::atomic<bool>& stop = stop_on_signals();
    const auto whole = run_to_end(whole_run(std::move(plan), command.runs, person, progress, stop));
    if (!whole) {
        return refuse(output, whole.error().why, whole.error().exit_status);
    }
    const RunDocument& document = whole->document;
    if (output.json) {
        print(json_line(run_json(document)) + "\n");
    } else {
        print(sheet(document, whole->folder + "/report.html", output_terminal(output)));
    }
    return exit_status(document);
}

}  // namespace

int run(const RunOptions& command, const OutputOptions& output) {
    if (command.bench.empty()) {
        return refuse(output,
                      "run needs --bench: a bench file, such as fixtures/benches/north.bench.yaml",
                      exit_usage);
    }
    auto inputs = read_run_inputs(command);
    if (const auto* missing = std::get_if<MissingInput>(&inputs)) {
        return refuse(output, missing->what, exit_no_input);
    }
    if (const auto* mistakes = std::get_if<Mistakes>(&inputs)) {
        return show_mistakes(output, *mistakes, exit_bad_input);
    }
    RunPlan plan = std::get<RunPlan>(std::move(inputs));
    if (!plan.sheet.unit) {
        return refuse(output,
                      command.unit + ": is a house sheet and names no unit; give it with --house",
                      exit_bad_input);
    }
    if (command.plan) {
        const PlannedRun told = planned(plan);
        print(output.json ? json_line(plan_json(told)) + "\n"
                          : plan_text(told, output_terminal(output)));
        return exit_pass;
    }
    if (command.assume_prompts && !plan.bench.simulated) {
        return refuse(
            output,
            "--assume-prompts is for benches on which everything that drives is simulated; "
            "on this one a person answers",
            exit_usage);
    }
    return carry_out_plan(std::move(plan), command, output);
}

}  // namespace afterload::runner
