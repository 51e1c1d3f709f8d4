#include "instruments/guard/guardian.hpp"
#include "instruments/guard/runtime_folder.hpp"
#include "runner/client/daemon_client.hpp"
#include "runner/commands.hpp"
#include "runner/console.hpp"
#include "runner/exit_status.hpp"
#include "runner/papers/json_text.hpp"

#include <filesystem>
#include <string>
#include <system_error>
#include <vector>

namespace afterload::runner {
namespace {

/// Doors of guardians, the dead ones among them.
std::vector<std::string> doors() {
    std::vector<std::string> found;
    std::error_code error;
    for (const auto& entry :
         std::filesystem::directory_iterator{instruments::runtime_folder(), error}) {
        const std::string name = entry.path().filename().string();
        if (name.starts_with("guardian-") && name.ends_with(".sock")) {
            found.push_back(entry.path().string());
        }
    }
    return found;
}

}  // namespace

int stop(const StopOptions& command, const OutputOptions& output) {
    constexpr Seconds patience{25.0};  // beyond the tries that a guardian makes
    // The daemon's run ends by itself, safely; the guardians do not wait for that.
    const auto daemon = DaemonClient{command.socket}.ask_json("POST", "/v1/stop");
    const bool stopping = daemon && daemon->value("stopping", false);
    std::string report = stopping ? "the run of afterloadd is being stopped\n" : "";
    int told = 0;
    for (const std::string& door : doors()) {
        if (const auto answer = instruments::tell_guardian_to_stop(door, patience)) {
            report += *answer;
            ++told;
        } else if (answer.error().kind == instruments::BenchFailure::Kind::no_reply) {
            return refuse(output, text(answer.error()), exit_no_device);
        }
    }
    const bool all_off = report.find("NOT CONFIRMED") == std::string::npos;
    if (output.json) {
        Json document;
        document["schema"] = "afterload/stop/1";
        document["run_stopping"] = stopping;
        document["guardians"] = told;
        document["confirmed"] = all_off;
        document["report"] = report;
        print(json_line(document) + "\n");
    } else if (told == 0 && !stopping) {
        print(
            "nothing is driven on a wire by afterload here; a sound card falls silent with its "
            "program\n");
    } else {
        print(report.empty() ? "told to stop; nothing had to be turned off\n" : report);
    }
    return all_off ? exit_pass : exit_fail;
}

}  // namespace afterload::runner
