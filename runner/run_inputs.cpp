#include "runner/run_inputs.hpp"

#include "runner/compare/run_comparison.hpp"
#include "runner/finished_run.hpp"
#include "runner/input_file.hpp"
#include "runner/job_label.hpp"
#include "runner/known_faults.hpp"
#include "runner/papers.hpp"
#include "runner/papers/retest_json.hpp"
#include "runner/papers/run_json.hpp"
#include "runner/retest/retest_steps.hpp"
#include "runner/rig/rig_store.hpp"
#include "runner/run_folder.hpp"
#include "runner/soak/soak_file.hpp"
#include "sequences/bench_reader.hpp"
#include "sequences/hint_reader.hpp"
#include "sequences/job_reader.hpp"
#include "sequences/rating_reader.hpp"
#include "sequences/review.hpp"
#include "sequences/sequence_reader.hpp"
#include "sequences/shipped_sequences.hpp"
#include "sequences/soak.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <filesystem>
#include <string_view>
#include <system_error>
#include <utility>

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

/// The run that is to stand beside this one must be one, and of this unit.
void check_earlier_run(const InputText& earlier, const RatingSheet& unit, const std::string& serial,
                       Mistakes& mistakes) {
    const auto found = read_run_json(earlier.text);
    std::string what;
    if (!found) {
        what = found.error();
    } else if (unit.unit) {
        RunDocument wanted;
        wanted.unit = *unit.unit;
        wanted.serial = serial;
        what = other_unit(*found, wanted);
        if (!what.empty()) {
            what = "the earlier run is of another unit: " + what;
        }
    }
    if (!what.empty()) {
        mistakes.push_back(sequences::mistake_of_file(earlier.path, std::move(what)));
    }
}

/// The files of an earlier run as it used them, and what of it is measured again: the sheets, the
/// sequence and its parameters are those of then. A job file may have been written on since: that
/// of now is taken where one is given.
std::optional<MissingInput> add_retest(RunRequest& request, const RunOptions& options) {
    const auto earlier = read_finished_run(options.retest);
    if (!earlier) {
        return MissingInput{earlier.error()};
    }
    const RunDocument& run = earlier->document;
    for (const UsedFile& file : run.files) {
        const bool wanted = file.role == "sequence" || file.role == "rating" ||
                            file.role == "house" ||
                            (file.role == "job" && request.file("job") == nullptr);
        if (!wanted) {
            continue;
        }
        auto text = earlier->folder.read_used(file);
        if (!text) {
            return MissingInput{text.error()};
        }
        // It was kept under its role and its own name.
        std::string name = std::filesystem::path{file.path}.filename().string();
        if (name.starts_with(file.role + "-")) {
            name.erase(0, file.role.size() + 1);
        }
        request.files.push_back({file.role, name, *std::move(text)});
    }
    request.set = {run.parameters.begin(), run.parameters.end()};
    const InputText* const text = request.file("sequence");
    if (text == nullptr || request.file("rating") == nullptr) {
        return MissingInput{options.retest + ": the run names no rating sheet or no sequence"};
    }
    const auto sequence = sequences::read_sequence(text->text, text->path, request.set);
    if (!sequence) {
        return std::nullopt;  // its mistakes are told elsewhere, all at once
    }
    const RetestOf retest = retest_of(run, *sequence);
    if (retest.steps.empty()) {
        return MissingInput{options.retest +
                            ": nothing failed or was left open in this run: there is nothing to "
                            "measure again"};
    }
    const auto fewer = reduced(*sequence, retest);
    if (fewer && std::any_of(fewer->steps.begin(), fewer->steps.end(), plays_file)) {
        return MissingInput{options.retest +
                            ": a soak of it plays a WAV file: afterload run carries the whole "
                            "sequence out again"};
    }
    request.files.push_back(
        {role_retest, run.id + ".retest.json", pretty_json(retest_json(retest))});
    return std::nullopt;
}

bool same_file_name(const std::filesystem::path& one, const std::filesystem::path& other) {
    return one.filename() == other.filename();
}

/// The WAV files that soaks of the sequence play: they travel with the run.
std::optional<MissingInput> add_stimuli(RunRequest& request) {
    const InputText* const text = request.file("sequence");
    if (text == nullptr) {
        return std::nullopt;
    }
    const std::string sequence_path = text->path;
    const auto sequence = sequences::read_sequence(text->text, text->path, request.set);
    if (!sequence) {
        return std::nullopt;  // its mistakes are told elsewhere, all at once
    }
    for (const sequences::Step& step : sequence->steps) {
        if (!plays_file(step)) {
            continue;
        }
        const std::string path = soak_file_path(sequence_path, step.soak->file);
        const auto known =
            std::find_if(request.files.begin(), request.files.end(), [&](const InputText& file) {
                return file.role == stimulus_role && same_file_name(file.path, path);
            });
        if (known != request.files.end()) {
            if (known->path != path) {
                return MissingInput{path + ": has the name of " + known->path +
                                    ", which is played too; give one of them another name"};
            }
            continue;
        }
        auto bytes = read_recording_bytes(path);
        if (!bytes) {
            return MissingInput{bytes.error()};
        }
        request.files.push_back({stimulus_role, path, *std::move(bytes)});
    }
    return std::nullopt;
}

/// The file at `path`; where there is none and `path` is only a word, the shipped sequence of that
/// name.
tl::expected<InputText, std::string> sequence_text(const std::string& path) {
    constexpr const char* role = "sequence";
    std::error_code error;
    const bool word = path.find_first_of("/.") == std::string::npos && path != "-";
    if (!word || std::filesystem::exists(path, error)) {
        auto text = read_input(path);
        return text ? tl::expected<InputText, std::string>{InputText{role, path, *std::move(text)}}
                    : tl::unexpected(std::move(text.error()));
    }
    if (const auto* const shipped = sequences::shipped_sequence(path)) {
        return InputText{role, path + ".sequence.yaml", std::string{shipped->text}};
    }
    std::string names;
    for (const auto& one : sequences::shipped_sequences()) {
        names += fmt::format("{}{}", names.empty() ? "" : ", ", one.name);
    }
    return tl::unexpected(fmt::format(
        "{}: is neither a file nor the name of a sequence that ships: {}", path, names));
}

}  // namespace

const InputText* RunRequest::file(std::string_view role) const {
    const auto found = std::find_if(files.begin(), files.end(),
                                    [&](const InputText& one) { return one.role == role; });
    return found == files.end() ? nullptr : &*found;
}

std::variant<RunRequest, MissingInput> read_run_request(const RunOptions& options) {
    RunRequest request;
    const bool job_file = is_job_file(options.job);
    if (!options.sequence.empty()) {
        auto sequence = sequence_text(options.sequence);
        if (!sequence) {
            return MissingInput{sequence.error()};
        }
        request.files.push_back(*std::move(sequence));
    }
    const std::array<std::pair<const char*, std::string>, 5> wanted{
        {{"rating", options.unit},
         {"bench", options.bench},
         {"house", options.house},
         {"job", job_file ? options.job : std::string{}},
         {role_hints, options.hints}}};
    for (const auto& [role, path] : wanted) {
        if (path.empty()) {
            continue;
        }
        auto text = read_input(path);
        if (!text) {
            return MissingInput{text.error()};
        }
        request.files.push_back({role, path, *std::move(text)});
    }
    if (!options.before.empty()) {
        // A run's document may be longer than what a person writes.
        const auto folder = RunFolder::open(options.before);
        auto text = folder ? folder->read("run.json") : tl::unexpected(folder.error());
        if (!text) {
            return MissingInput{text.error()};
        }
        const auto name = std::filesystem::path{options.before + "/"}.parent_path().filename();
        request.files.push_back({role_before, name.string() + ".run.json", *std::move(text)});
    }
    request.set = options.set;
    if (!options.retest.empty()) {
        if (auto missing = add_retest(request, options)) {
            return *std::move(missing);
        }
    } else if (auto missing = add_stimuli(request)) {
        return *std::move(missing);
    }
    request.serial = options.serial;
    request.job = options.job;
    request.stage = options.stage;
    request.power_as_received = options.power_as_received;
    return request;
}

std::variant<RunPlan, Mistakes> plan_of(const RunRequest& request) {
    RunPlan plan;
    plan.inputs = request.files;
    const InputText none;
    const auto text_of = [&](std::string_view role) -> const InputText& {
        const InputText* const file = request.file(role);
        return file != nullptr ? *file : none;
    };
    const InputText& sequence_text = text_of("sequence");
    const InputText& unit_text = text_of("rating");
    const InputText& bench_text = text_of("bench");
    Mistakes mistakes;
    RatingSheet unit;
    const bool unit_read =
        keep(sequences::read_rating(unit_text.text, unit_text.path), unit, mistakes);
    const bool sequence_read =
        keep(sequences::read_sequence(sequence_text.text, sequence_text.path, request.set),
             plan.sequence, mistakes);
    const bool bench_read =
        keep(sequences::read_bench(bench_text.text, bench_text.path, known_faults()), plan.bench,
             mistakes);
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
    if (const InputText* const text = request.file("house")) {
        house_read = keep(sequences::read_rating(text->text, text->path), house, mistakes);
    }
    if (const InputText* const text = request.file(role_before)) {
        check_earlier_run(*text, unit, request.serial, mistakes);
    }
    if (const InputText* const text = request.file(role_hints)) {
        sequences::HintRules rules;
        keep(sequences::read_hints(text->text, text->path, &sequences::shipped_hints()), rules,
             mistakes);
    }
    if (const InputText* const text = request.file(role_retest); text != nullptr && sequence_read) {
        auto retest = read_retest(text->text);
        auto fewer = retest ? reduced(plan.sequence, *retest) : tl::unexpected(retest.error());
        if (fewer) {
            plan.sequence = *std::move(fewer);
            plan.retest = *std::move(retest);
        } else {
            mistakes.push_back(sequences::mistake_of_file(text->path, std::move(fewer.error())));
        }
    }
    plan.job = request.job;
    if (const InputText* const text = request.file("job")) {
        sequences::Job job;
        if (keep(sequences::read_job(text->text, text->path), job, mistakes)) {
            plan.job = job_label(job);
        }
    }
    if (unit_read && house_read) {
        plan.sheet = laid_under(unit, house);
    }
    if (unit_read && house_read && sequence_read && bench_read) {
        sequences::ReviewSettings settings;
        settings.stage = std::string{name(request.stage)};
        settings.power_as_received = request.power_as_received;
        auto found = sequences::review(plan.sheet, plan.bench, plan.sequence, settings);
        if (!found.empty()) {
            mistakes.push_back(std::move(found));
        }
    }
    if (sequence_read && bench_read) {
        for (const sequences::Step& step : plan.sequence.steps) {
            if (auto wrong = cannot_be_looped(step, plan)) {
                mistakes.push_back(*std::move(wrong));
            }
        }
    }
    if (!mistakes.empty()) {
        return mistakes;
    }
    plan.serial = request.serial;
    plan.stage = request.stage;
    plan.parameters.insert(request.set.begin(), request.set.end());
    return plan;
}

std::variant<RunPlan, Mistakes, MissingInput> read_run_inputs(const RunOptions& options) {
    auto request = read_run_request(options);
    if (auto* missing = std::get_if<MissingInput>(&request)) {
        return std::move(*missing);
    }
    auto plan = plan_of(std::get<RunRequest>(request));
    if (auto* mistakes = std::get_if<Mistakes>(&plan)) {
        return std::move(*mistakes);
    }
    return std::get<RunPlan>(std::move(plan));
}

}  // namespace afterload::runner
