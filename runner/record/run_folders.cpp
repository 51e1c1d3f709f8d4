#include "runner/record/run_folders.hpp"

#include "runner/checksum.hpp"
#include "runner/papers.hpp"
#include "runner/papers/run_json.hpp"
#include "runner/run_folder.hpp"

#include <algorithm>
#include <filesystem>
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

struct ReadRun {
    RunFolder folder;
    RunDocument document;
    std::string sha256;
};

tl::expected<ReadRun, std::string> read(const fs::path& path) {
    auto folder = RunFolder::open(path.string());
    if (!folder) {
        return tl::unexpected(folder.error());
    }
    const auto text = folder->read("run.json");
    if (!text) {
        return tl::unexpected(text.error());
    }
    auto document = read_run_json(*text);
    if (!document) {
        return tl::unexpected(path.string() + "/run.json: " + document.error());
    }
    return ReadRun{*std::move(folder), *std::move(document), sha256(*text)};
}

}  // namespace

FoundRuns read_runs(const std::string& runs, const std::set<std::string>& known) {
    FoundRuns found;
    for (const fs::path& path : folders(runs)) {
        if (known.contains(path.filename().string())) {
            continue;
        }
        const auto run = read(path);
        if (!run) {
            found.unreadable.push_back(run.error());
        } else {
            found.runs.push_back(indexed(run->document, path.string(), run->sha256));
        }
    }
    return found;
}

std::vector<std::string> mark_interrupted(const std::string& runs) {
    std::vector<std::string> marked;
    for (const fs::path& path : folders(runs)) {
        auto run = read(path);
        if (!run || run->document.state != RunState::running || RunFolder::in_use(path.string())) {
            continue;
        }
        RunDocument& document = run->document;
        document.state = RunState::interrupted;
        document.stop_reason =
            "interrupted: power, machine or program went away while the run went on; what was "
            "measured until then is kept, and nothing was driven again by itself";
        conclude(document);
        if (run->folder.write("run.json", run_json_text(document))) {
            marked.push_back(document.id);
            // The sheet and report of what there is; run.json is the truth if they do not fit.
            static_cast<void>(write_papers(document, run->folder).has_value());
        }
    }
    return marked;
}

}  // namespace afterload::runner
