#include "runner/whole_run.hpp"

#include "runner/disk_room.hpp"
#include "runner/open_bench.hpp"
#include "runner/rig/rig_check.hpp"
#include "runner/rig/rig_store.hpp"
#include "runner/wall_clock.hpp"

#include <filesystem>
#include <string>
#include <system_error>
#include <utility>

namespace afterload::runner {
namespace {

std::string folder_name(const RunPlan& plan) {
    const auto plain = [](const std::string& text) {
        std::string kept;
        for (const char letter : text) {
            const bool fine = (letter >= 'a' && letter <= 'z') ||
                              (letter >= 'A' && letter <= 'Z') ||
                              (letter >= '0' && letter <= '9') || letter == '-';
            kept += fine ? letter : '-';
        }
        return kept.substr(0, 40);
    };
    std::string name;
    for (const std::string& part : {plan.job, plan.serial}) {
        name += part.empty() ? "" : plain(part) + "-";
    }
    return name + short_stamp(plan.started);
}

/// `name`, or with a number behind it where runs of the same second have it already.
std::string free_name(const std::string& runs, const std::string& name) {
    std::string free = name;
    std::error_code error;
    for (int n = 2; std::filesystem::exists(runs + "/" + free, error) && n < 10000; ++n) {
        free = name + "-" + std::to_string(n);
    }
    return free;
}

/// The part of the rig check that needs no hands. A level that would be wrong stops the run before
/// it begins; the rest is noted.
instruments::Task<tl::expected<void, Refusal>> rig_is_fit(RunPlan& plan, instruments::Bench& bench,
                                                          const std::atomic<bool>& stop) {
    if (plan.bench.simulated && plan.bench.checked.empty()) {
        co_return tl::expected<void, Refusal>{};
    }
    Driver driver{bench, plan.bench, stop};
    RigCheckSettings settings;
    settings.mixer = mixer_now(plan.bench);
    const auto findings = co_await check_rig_unattended(driver, std::move(settings));
    if (!findings) {
        co_return tl::unexpected<Refusal>(Refusal{findings.error().what, exit_no_device});
    }
    for (const RigFinding& finding : *findings) {
        if (finding.stops) {
            co_return tl::unexpected<Refusal>(
                Refusal{plan.bench.path + ": " + finding.what, exit_no_device});
        }
        plan.notes.push_back("rig: " + finding.what);
    }
    for (std::string& note : age_notes(plan.bench, plan.started)) {
        plan.notes.push_back("rig: " + std::move(note));
    }
    co_return tl::expected<void, Refusal>{};
}

/// `made`: the folder of a run that goes on; nothing: one is made under `runs`.
instruments::Task<tl::expected<WholeRun, Refusal>> on_its_bench(RunPlan plan, std::string runs,
                                                                std::optional<RunFolder> made,
                                                                Operator& person,
                                                                Progress& progress,
                                                                const std::atomic<bool>& stop) {
    const std::string where = made ? made->path() : std::filesystem::exists(runs) ? runs : ".";
    if (auto room = room_to_begin(where); !room) {
        co_return tl::unexpected<Refusal>(Refusal{std::move(room.error()), exit_cannot_write});
    }
    const auto& unit = *plan.sheet.unit;
    sequences::BenchFile file = plan.bench;
    auto opened =
        co_await open_bench(std::move(file), unit.mains_voltage, unit.mains_frequency, person);
    if (!opened) {
        co_return tl::unexpected<Refusal>(Refusal{opened.error(), exit_no_device});
    }
    for (sequences::WireEntry& entry : plan.bench.instruments) {
        entry.identity = opened->identities[entry.name];
    }
    plan.bench.card.opened = opened->card;
    if (!made) {
        plan.started = wall_clock_stamp();
    }
    if (auto fit = co_await rig_is_fit(plan, *opened->bench, stop); !fit) {
        co_return tl::unexpected<Refusal>(std::move(fit.error()));
    }
    // Only now: a bench that does not open leaves no folder behind.
    if (!made) {
        plan.id = free_name(runs, folder_name(plan));
        auto folder = RunFolder::make(runs, plan.id);
        if (!folder) {
            co_return tl::unexpected<Refusal>(Refusal{folder.error(), exit_cannot_write});
        }
        made = *std::move(folder);
    }
    progress.named(plan.id, made->path());
    WholeRun whole;
    whole.folder = made->path();
    whole.document =
        co_await carry_out(std::move(plan), *opened->bench, person, progress, *made, stop);
    co_return whole;
}

}  // namespace

instruments::Task<tl::expected<WholeRun, Refusal>> whole_run(RunPlan plan, std::string runs,
                                                             Operator& person, Progress& progress,
                                                             const std::atomic<bool>& stop) {
    auto whole = co_await on_its_bench(std::move(plan), std::move(runs), std::nullopt, person,
                                       progress, stop);
    co_return whole;
}

instruments::Task<tl::expected<WholeRun, Refusal>> continued_run(RunPlan plan, RunFolder folder,
                                                                 Operator& person,
                                                                 Progress& progress,
                                                                 const std::atomic<bool>& stop) {
    auto whole =
        co_await on_its_bench(std::move(plan), {}, std::move(folder), person, progress, stop);
    co_return whole;
}

}  // namespace afterload::runner
