#include "runner/run_inputs.hpp"

#include "runner/input_file.hpp"
#include "runner/known_faults.hpp"
#include "runner/rig/rig_store.hpp"
#include "sequences/bench_reader.hpp"
#include "sequences/job_reader.hpp"
#include "sequences/rating_reader.hpp"
#include "sequences/review.hpp"
#include "sequences/sequence_reader.hpp"

#include <filesystem>
#include <string_view>

namespace afterload::runner {
namespace {

/// Takes a reader's result apart: the value, or its mistakes added to the rest.
template <class T>
bool keep(tl::expected<T, sequences::Diagnostics> read, T& into, Mistakes& mistakes) {
    if (!read) {
        mistakes.push_back(std::move(read.error()));
        return false;
    }
    into = *std::move(read);
    return true;
}

}  // namespace

std::variant<RunPlan, Mistakes, MissingInput> read_run_inputs(const RunOptions& options) {
    RunPlan plan;
    const auto load = [&plan](const std::string& role, const std::string& path) {
        auto text = read_input(path);
        if (text) {
            plan.inputs.push_back({role, path, *text});
        }
        return text;
    };
    const auto sequence_text = load("sequence", options.sequence);
    const auto unit_text = load("rating", options.unit);
    const auto bench_text = load("bench", options.bench);
    for (const auto* text : {&sequence_text, &unit_text, &bench_text}) {
        if (!*text) {
            return MissingInput{text->error()};
        }
    }
    Mistakes mistakes;
    RatingSheet unit;
    const bool unit_read = keep(sequences::read_rating(*unit_text, options.unit), unit, mistakes);
    bool sequence_read =
        keep(sequences::read_sequence(*sequence_text, options.sequence, options.set), plan.sequence,
             mistakes);
    const bool bench_read = keep(sequences::read_bench(*bench_text, options.bench, known_faults()),
                                 plan.bench, mistakes);
    if (bench_read) {
        auto rig = stored_rig(plan.bench);
        if (!rig) {
            mistakes.push_back(std::move(rig.error()));
        } else if (*rig) {
            sequences::lay_over(plan.bench, (*rig)->rig);
            plan.inputs.push_back({"rig", (*rig)->path, (*rig)->text});
        }
    }
    RatingSheet house;
    bool house_read = true;
    if (!options.house.empty()) {
        const auto house_text = load("house", options.house);
        if (!house_text) {
            return MissingInput{house_text.error()};
        }
        house_read = keep(sequences::read_rating(*house_text, options.house), house, mistakes);
    }
    plan.job = options.job;
    if (options.job.ends_with(".yaml") || options.job.ends_with(".yml")) {
        const auto job_text = load("job", options.job);
        if (!job_text) {
            return MissingInput{job_text.error()};
        }
        sequences::Job job;
        if (keep(sequences::read_job(*job_text, options.job), job, mistakes)) {
            plan.job = job.ticket;
        }
    }
    if (unit_read && house_read) {
        plan.sheet = laid_under(unit, house);
    }
    if (unit_read && house_read && sequence_read && bench_read) {
        sequences::ReviewSettings settings;
        settings.stage = std::string{name(options.stage)};
        settings.power_as_received = options.power_as_received;
        auto found = sequences::review(plan.sheet, plan.bench, plan.sequence, settings);
        if (!found.empty()) {
            mistakes.push_back(std::move(found));
        }
    }
    if (!mistakes.empty()) {
        return mistakes;
    }
    plan.serial = options.serial;
    plan.stage = options.stage;
    for (const auto& [name, text] : options.set) {
        plan.parameters[name] = text;
    }
    return plan;
}

}  // namespace afterload::runner
