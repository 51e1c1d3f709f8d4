#include "runner/record/named_run.hpp"

#include "runner/client/daemon_client.hpp"

#include <filesystem>
#include <system_error>
#include <type_traits>
#include <utility>

namespace afterload::runner {
namespace {

bool is_folder(const std::string& path) {
    std::error_code error;
    return std::filesystem::is_directory(path, error);
}

}  // namespace

std::string folder_of_run(const std::string& word, const std::string& socket) {
    if (word.empty() || word.find('/') != std::string::npos || is_folder(word)) {
        return word;
    }
    if (is_folder("runs/" + word)) {
        return "runs/" + word;
    }
    if (const auto runs = runs_of_daemon(DaemonClient{socket});
        runs && is_folder(*runs + "/" + word)) {
        return *runs + "/" + word;
    }
    return word;
}

Options with_folders_of_runs(Options options) {
    const auto find = [&](std::string& word) { word = folder_of_run(word, options.socket); };
    std::visit(
        [&](auto& command) {
            if constexpr (requires { command.run; }) {
                find(command.run);
            }
            if constexpr (requires { command.before; }) {
                find(command.before);
            }
            if constexpr (std::is_same_v<std::decay_t<decltype(command)>, CompareOptions>) {
                for (std::string& run : command.runs) {
                    find(run);
                }
            }
        },
        options.command);
    return options;
}

}  // namespace afterload::runner
