#include "runner/soak/soak_continued.hpp"

#include "runner/papers.hpp"
#include "runner/papers/run_json.hpp"
#include "runner/run_inputs.hpp"
#include "sequences/rig_file.hpp"
#include "sequences/soak.hpp"

#include <algorithm>
#include <filesystem>
#include <memory>
#include <system_error>
#include <utility>
#include <variant>

namespace afterload::runner {

namespace {

using Failure = tl::unexpected<std::string>;

SoakResult* killed_soak(RunDocument& document) {
    for (StepResult& step : document.steps) {
        if (step.soak && step.soak->killed) {
            return &*step.soak;
        }
    }
    return nullptr;
}

}  // namespace

const StepResult* unfinished_soak(const RunDocument& document) {
    const auto found = std::find_if(
        document.steps.begin(), document.steps.end(),
        [](const StepResult& step) { return step.soak && step.soak->state != "finished"; });
    return found == document.steps.end() ? nullptr : &*found;
}

tl::expected<RunPlan, std::string> plan_to_continue(const FinishedRun& run) {
    const RunDocument& document = run.document;
    const StepResult* const step = unfinished_soak(document);
    if (step == nullptr) {
        return Failure(run.folder.path() + ": no soak of this run is left to go on with");
    }
    if (step->soak->killed && step->soak->cause.empty()) {
        return Failure(run.folder.path() + ": the soak turned everything off: " + step->soak->why +
                       "; find the cause and enter it first: afterload cause " + run.folder.path() +
                       " --because TEXT --by NAME");
    }
    RunRequest request;
    std::string rig;
    for (const UsedFile& file : document.files) {
        auto text = run.folder.read_used(file);
        if (!text) {
            return Failure(text.error());
        }
        if (file.role == "rig") {
            rig = *std::move(text);
        } else {
            request.files.push_back({file.role, file.path, *std::move(text)});
        }
    }
    request.set = {document.parameters.begin(), document.parameters.end()};
    request.serial = document.serial;
    request.stage = document.stage;
    auto planned = plan_of(request);
    if (const auto* mistakes = std::get_if<Mistakes>(&planned)) {
        return Failure(sequences::text(mistakes->front()));
    }
    RunPlan plan = std::get<RunPlan>(std::move(planned));
    if (!rig.empty()) {
        auto read = sequences::read_rig(rig, "rig");
        if (!read) {
            return Failure(sequences::text(read.error()));
        }
        sequences::lay_over(plan.bench, *read);
    }
    const auto& steps = plan.sequence.steps;
    const auto begins = std::find_if(steps.begin(), steps.end(), [&](const sequences::Step& one) {
        return one.soak != nullptr && one.name == step->name;
    });
    if (begins == steps.end()) {
        return Failure(run.folder.path() + ": the sequence has no soak called " + step->name);
    }
    plan.begins_at = static_cast<int>(begins - steps.begin());
    plan.id = document.id;
    plan.job = document.job;
    plan.started = document.started;
    plan.continues = std::make_shared<const RunDocument>(document);
    return plan;
}

tl::expected<void, std::string> enter_cause(FinishedRun run, const std::string& because,
                                            const std::string& by) {
    SoakResult* const soak = killed_soak(run.document);
    if (soak == nullptr) {
        return Failure(run.folder.path() + ": no soak of this run turned everything off");
    }
    soak->cause = because;
    soak->cause_by = by;
    if (auto written = run.folder.write("run.json", run_json_text(run.document)); !written) {
        return written;
    }
    return write_papers(run.document, run.folder);
}

std::optional<std::string> killed_without_cause(const std::string& runs,
                                                const std::string& serial) {
    namespace fs = std::filesystem;
    if (serial.empty()) {
        return std::nullopt;
    }
    std::optional<std::string> newest;
    std::string newest_started;
    std::error_code error;
    for (fs::directory_iterator entry{runs, error}, end; !error && entry != end;
         entry.increment(error)) {
        // Most folders are told by their name alone, which holds the serial.
        if (!entry->is_directory(error)) {
            continue;
        }
        auto run = read_finished_run(entry->path().string());
        if (!run || run->document.serial != serial || run->document.started < newest_started) {
            continue;
        }
        const SoakResult* const soak = killed_soak(run->document);
        if (soak != nullptr && soak->cause.empty()) {
            newest = run->folder.path();
            newest_started = run->document.started;
        }
    }
    return newest;
}

}  // namespace afterload::runner
