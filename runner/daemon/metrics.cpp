#include "runner/daemon/metrics.hpp"

#include <fmt/format.h>

#include <cmath>

namespace afterload::runner {
namespace {

std::string family(std::string_view name, std::string_view type, std::string_view unit,
                   std::string_view help) {
    std::string text = fmt::format("# TYPE {} {}\n", name, type);
    if (!unit.empty()) {
        text += fmt::format("# UNIT {} {}\n", name, unit);
    }
    return text + fmt::format("# HELP {} {}\n", name, help);
}

}  // namespace

std::string metrics_text(const RunDesk& desk) {
    const Json status = desk.status();
    const DeskCounts counts = desk.counts();
    std::string text = family("afterload_queue_waiting", "gauge", "", "Runs that wait.");
    text +=
        fmt::format("afterload_queue_waiting {}\n", status["queue"]["waiting"].get<std::size_t>());
    text += family("afterload_run_active", "gauge", "", "1 while a run goes on.");
    text += fmt::format("afterload_run_active {}\n", status["run"].is_null() ? 0 : 1);
    text += family("afterload_prompt_waiting", "gauge", "", "1 while a prompt waits for a person.");
    text += fmt::format("afterload_prompt_waiting {}\n", status["prompt"].is_null() ? 0 : 1);
    text += family("afterload_bench_ready", "gauge", "", "1 when the bench opened as it should.");
    text += fmt::format("afterload_bench_ready {}\n", status["bench"]["ready"].get<bool>() ? 1 : 0);
    text += family("afterload_runs", "counter", "", "Runs that ended, by how.");
    for (const char* verdict : {"pass", "fail", "inconclusive", "stopped", "refused"}) {
        const auto found = counts.runs.find(verdict);
        text += fmt::format("afterload_runs_total{{verdict=\"{}\"}} {}\n", verdict,
                            found == counts.runs.end() ? 0 : found->second);
    }
    text += family("afterload_retakes", "counter", "", "Records that were taken again.");
    text += fmt::format("afterload_retakes_total {}\n", counts.retakes);
    text += family("afterload_gaps", "counter", "", "Gaps in kept records.");
    text += fmt::format("afterload_gaps_total {}\n", counts.gaps);
    text += family("afterload_disk_free_bytes", "gauge", "bytes", "Room on the disk of the runs.");
    text += fmt::format("afterload_disk_free_bytes {}\n",
                        status["disk_free_bytes"].get<std::uint64_t>());
    text += family("afterload_temperature_celsius", "gauge", "celsius",
                   "Last reading of the last run.");
    for (const auto& [place, celsius] : counts.temperatures) {
        if (std::isfinite(celsius)) {
            text += fmt::format("afterload_temperature_celsius{{place=\"{}\"}} {:.2f}\n", place,
                                celsius);
        }
    }
    return text + "# EOF\n";
}

}  // namespace afterload::runner
