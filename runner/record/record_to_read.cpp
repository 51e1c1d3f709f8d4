#include "runner/record/record_to_read.hpp"

#include "runner/client/daemon_client.hpp"
#include "runner/console.hpp"
#include "runner/exit_status.hpp"
#include "runner/file_lock.hpp"

#include <chrono>
#include <filesystem>
#include <optional>
#include <system_error>
#include <utility>

namespace afterload::runner {
namespace {

/// The folder of the daemon's runs, which it has just read anew; nothing where none answers.
std::optional<std::string> folder_of_daemon(const std::string& socket) {
    const DaemonClient client{socket};
    const auto newest = client.ask_json("GET", "/v1/runs?most=1");
    return newest ? runs_of_daemon(client) : std::nullopt;
}

/// True where somebody holds it for longer than it takes to ask: a daemon.
bool kept_by_another(const std::string& runs) {
    constexpr std::chrono::milliseconds patience{500};
    const auto lock = FileLock::of_file(runs + "/index.sqlite.lock", patience);
    return !lock && FileLock::is_held(lock.error());
}

}  // namespace

tl::expected<RunRecord, int> open_record(const std::string& runs, const OutputOptions& output) {
    std::error_code error;
    if (!std::filesystem::is_directory(runs, error)) {
        return tl::unexpected(
            refuse(output, runs + ": is no folder; say with --runs where the runs' folders are",
                   exit_no_input));
    }
    auto record = RunRecord::open(runs);
    if (!record) {
        return tl::unexpected(refuse(output, record.error(), exit_cannot_write));
    }
    return *std::move(record);
}

void tell(const FoundRuns& done) {
    for (const std::string& id : done.interrupted) {
        print_error(id + ": was interrupted; what it measured until then is kept\n");
    }
    for (const std::string& line : done.unreadable) {
        print_error(line + "\n");
    }
}

tl::expected<RunRecord, int> record_to_read(const std::string& runs, const std::string& socket,
                                            const OutputOptions& output) {
    std::string folder = runs;
    if (folder.empty()) {
        folder = folder_of_daemon(socket).value_or("runs");
    }
    std::error_code error;
    if (std::filesystem::is_directory(folder, error) && kept_by_another(folder)) {
        auto record = RunRecord::open_to_read(folder);
        if (!record) {
            return tl::unexpected(refuse(output, record.error(), exit_bad_input));
        }
        return *std::move(record);
    }
    auto record = open_record(folder, output);
    if (!record) {
        return record;
    }
    const auto refreshed = record->refresh();
    if (!refreshed) {
        return tl::unexpected(refuse(output, refreshed.error(), exit_cannot_write));
    }
    if (!output.json) {
        tell(*refreshed);
    }
    return record;
}

}  // namespace afterload::runner
