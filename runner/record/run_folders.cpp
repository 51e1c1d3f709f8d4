#include "runner/record/run_folders.hpp"

#include "runner/checksum.hpp"
#include "runner/file_lock.hpp"
#include "runner/finished_run.hpp"
#include "runner/papers.hpp"
#include "runner/papers/run_json.hpp"

#include <algorithm>
#include <filesystem>
#include <optional>
#include <system_error>

namespace afterload::runner {
namespace {

namespace fs = std::filesystem;

/// Folders in `runs`, by name.
std::vector<fs::path> folders(const std::string& runs) {
    std::vector<fs::path> found;
    std::error_code error;
    for (fs::directory_iterator entry{runs, error}, end; !error && entry != end;
         entry.increment(error)) {
        if (entry->is_directory(error)) {
            found.push_back(entry->path());
        }
    }
    std::sort(found.begin(), found.end());
    return found;
}

/// The run in `path` as it stands once nobody writes there: what it says of itself may have changed
/// between reading it and holding its folder. Marked as interrupted when nothing carries it out.
/// Empty where somebody does, or the mark could not be written.
std::optional<RunDocument> abandoned(const std::string& path) {
    const auto held = FileLock::of_folder(path);
    if (!held) {
        return std::nullopt;
    }
    auto run = read_finished_run(path);
    if (!run) {
        return std::nullopt;
    }
    RunDocument& document = run->document;
    if (document.state != RunState::running) {
        return document;
    }
    document.state = RunState::interrupted;
    document.stop_reason =
        "interrupted: power, machine or program went away while the run went on; what was "
        "measured until then is kept, and nothing was driven again by itself";
    conclude(document);
    if (!run->folder.write("run.json", run_json_text(document))) {
        return std::nullopt;
    }
    // The sheet and report of what there is; run.json is the truth if they do not fit.
    static_cast<void>(write_papers(document, run->folder).has_value());
    return document;
}

}  // namespace

FoundRuns read_runs(const std::string& runs, const std::set<std::string>& known) {
    FoundRuns found;
    for (const fs::path& folder : folders(runs)) {
        if (known.contains(folder.filename().string())) {
            continue;
        }
        const std::string path = folder.string();
        const auto run = read_finished_run(path);
        if (!run) {
            found.unreadable.push_back(run.error());
            continue;
        }
        RunDocument document = run->document;
        if (document.state == RunState::running) {
            document = abandoned(path).value_or(document);
        }
        if (document.state == RunState::interrupted && run->document.state == RunState::running) {
            found.interrupted.push_back(document.id);
        }
        const auto sum = sha256_of_file(path + "/run.json");
        if (!sum) {
            found.unreadable.push_back(sum.error());
            continue;
        }
        found.runs.push_back(indexed(document, path, *sum));
    }
    return found;
}

}  // namespace afterload::runner
