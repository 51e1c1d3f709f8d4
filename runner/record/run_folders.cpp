#include "runner/record/run_folders.hpp"

#include "runner/checksum.hpp"
#include "runner/file_lock.hpp"
#include "runner/finished_run.hpp"
#include "runner/papers.hpp"
#include "runner/papers/run_json.hpp"
#include "runner/remarks/remark_file.hpp"
#include "sequences/job_reader.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <optional>
#include <sys/stat.h>
#include <system_error>
#include <utility>

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

/// Size and time of a file; empty where there is none.
std::string stamp_of(const std::string& path) {
    struct stat found {};
    if (::stat(path.c_str(), &found) != 0) {
        return {};
    }
    return fmt::format("{}:{}.{:09}", found.st_size, found.st_mtim.tv_sec, found.st_mtim.tv_nsec);
}

/// What changes when somebody adds to a run that is over.
std::string stamp_of_run(const std::string& folder) {
    return stamp_of(folder + "/run.json") + " " + stamp_of(folder + "/" + remark_file_name);
}

/// The job file as it stood when the run was made; nothing where there is none that can be read.
std::optional<sequences::Job> job_of(const RunFolder& folder, const RunDocument& run) {
    for (const UsedFile& file : run.files) {
        if (file.role != "job") {
            continue;
        }
        const auto text = folder.read(file.path);
        auto job =
            text ? sequences::read_job(*text, file.path) : tl::unexpected(sequences::Diagnostics{});
        if (job) {
            return *std::move(job);
        }
    }
    return std::nullopt;
}

}  // namespace

FoundRuns read_runs(const std::string& runs, const std::map<std::string, std::string>& known,
                    const std::function<void(const RunToIndex&)>& take) {
    FoundRuns found;
    for (const fs::path& folder : folders(runs)) {
        const std::string path = folder.string();
        std::string stamp = stamp_of_run(path);
        const auto line = known.find(folder.filename().string());
        if (line != known.end() && line->second == stamp) {
            continue;
        }
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
            stamp = stamp_of_run(path);
        }
        const auto sum = sha256_of_file(path + "/run.json");
        if (!sum) {
            found.unreadable.push_back(sum.error());
            continue;
        }
        const auto job = job_of(run->folder, document);
        RunToIndex whole = to_index(document, path, *sum, job ? &*job : nullptr,
                                    read_remarks(run->folder).remarks);
        whole.line.stamp = std::move(stamp);
        take(whole);
        ++found.read;
    }
    return found;
}

}  // namespace afterload::runner
