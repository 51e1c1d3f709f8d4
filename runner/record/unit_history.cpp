#include "runner/record/unit_history.hpp"

#include "runner/papers/figure_rows.hpp"
#include "runner/papers/figure_words.hpp"

#include <algorithm>
#include <set>

namespace afterload::runner {
namespace {

constexpr std::string_view fail = "fail";

RecordedFault fault_at(const FigurePoint& point) {
    return {point.kind, point.channel, point.pair, point.path, {point.label}};
}

/// A fault in a run.
struct FaultOfRun {
    RecordedFault fault;
    const IndexedRun* run = nullptr;
};

/// All that failed in the runs that `wanted` takes, one fault once a run, oldest first.
template <class Wanted>
std::vector<FaultOfRun> failures(const FoundReadings& found, Wanted wanted) {
    std::vector<FaultOfRun> all;
    std::size_t own = 0;  // where those of the run begin
    for (const IndexedReading& reading : found.readings) {
        const auto run = found.runs.find(reading.run);
        const auto point = found.points.find(reading.point);
        if (reading.verdict != fail || run == found.runs.end() || point == found.points.end() ||
            !wanted(run->second)) {
            continue;
        }
        // Readings come run by run: those of this run stand last.
        if (!all.empty() && all.back().run != &run->second) {
            own = all.size();
        }
        RecordedFault fault = fault_at(point->second);
        const auto known =
            std::find_if(all.begin() + static_cast<std::ptrdiff_t>(own), all.end(),
                         [&](const FaultOfRun& one) { return one.fault.same_place(fault); });
        if (known == all.end()) {
            all.push_back({std::move(fault), &run->second});
            continue;
        }
        auto& labels = known->fault.labels;
        if (std::find(labels.begin(), labels.end(), point->second.label) == labels.end()) {
            labels.push_back(point->second.label);
        }
    }
    return all;
}

/// How near an earlier fault is to one of now; nothing for another figure.
std::optional<Recurrence> nearness(const RecordedFault& now, const RecordedFault& earlier) {
    if (now.kind != earlier.kind) {
        return std::nullopt;
    }
    const bool same_channel = now.channel == earlier.channel && now.pair == earlier.pair;
    const bool same_path = now.path == earlier.path;
    return same_channel && same_path ? std::optional{Recurrence::same}
           : same_path               ? std::optional{Recurrence::other_channel}
           : same_channel            ? std::optional{Recurrence::other_path}
                                     : std::nullopt;
}

/// Start of the last run of `earlier` in which the fault's figures were read and none of them
/// failed.
std::string last_passed(const FoundReadings& own, const std::set<std::string>& earlier,
                        const RecordedFault& fault) {
    std::map<std::int64_t, bool> sound;
    for (const IndexedReading& reading : own.readings) {
        const auto point = own.points.find(reading.point);
        if (point == own.points.end() || reading.verdict.empty() ||
            !fault_at(point->second).same_place(fault)) {
            continue;
        }
        auto& still = sound.try_emplace(reading.run, true).first->second;
        still = still && reading.verdict != fail;
    }
    std::string when;
    for (const auto& [number, passed] : sound) {
        const IndexedRun& run = own.runs.at(number);
        if (passed && earlier.contains(run.id)) {
            when = std::max(when, run.started);
        }
    }
    return when;
}

bool same_repair(const IndexedRun& newest, const IndexedRun& run, bool passed_since) {
    return newest.job.empty() ? run.job.empty() && !passed_since : run.job == newest.job;
}

/// What was written of the runs, newest first, each ticket once: its last run has the whole of it.
std::vector<WrittenThen> written_of(const std::vector<IndexedRun>& runs) {
    std::vector<WrittenThen> out;
    std::set<std::string> tickets;
    for (const IndexedRun& run : runs) {
        if (run.words.empty() || (!run.job.empty() && !tickets.insert(run.job).second)) {
            continue;
        }
        out.push_back({run.serial, run.started, run.job, {}, lines_of(run.words)});
    }
    return out;
}

/// Other units of the model that had a fault of now, newest first, each unit once, with what was
/// found: of the run that failed or of a later one under its ticket.
std::vector<WrittenThen> elsewhere(const UnitHistory& history, const FoundReadings& failed) {
    std::vector<WrittenThen> out;
    std::set<std::string> serials{history.serial};
    auto all = failures(failed, [&](const IndexedRun& run) {
        return !run.serial.empty() && run.serial != history.serial;
    });
    std::reverse(all.begin(), all.end());
    for (const FaultOfRun& one : all) {
        const bool alike =
            std::any_of(history.faults.begin(), history.faults.end(), [&](const FaultOfNow& now) {
                return now.fault.kind == one.fault.kind && now.fault.path == one.fault.path;
            });
        if (alike && serials.insert(one.run->serial).second) {
            out.push_back({one.run->serial, one.run->started, one.run->job, words(one.fault),
                           lines_of(one.run->words)});
        }
    }
    return out;
}

}  // namespace

std::string_view name(Recurrence recurrence) {
    switch (recurrence) {
        case Recurrence::same:
            return "same";
        case Recurrence::other_channel:
            return "other_channel";
        case Recurrence::other_path:
            return "other_path";
        case Recurrence::first:
            break;
    }
    return "first";
}

bool RecordedFault::same_place(const RecordedFault& other) const {
    return kind == other.kind && channel == other.channel && pair == other.pair &&
           path == other.path;
}

std::string words(const RecordedFault& fault) {
    Figure figure;
    figure.kind = fault.kind;
    figure.channel = fault.channel;
    figure.pair = fault.pair;
    const std::string channel = channel_words(figure);
    return std::string{words(fault.kind)} + (channel.empty() ? "" : ", " + channel);
}

UnitHistory unit_history(const FoundReadings& own, const FoundReadings& failed) {
    UnitHistory out;
    std::vector<const IndexedRun*> runs;
    for (const auto& [number, run] : own.runs) {
        runs.push_back(&run);
    }
    std::sort(runs.begin(), runs.end(), [](const IndexedRun* a, const IndexedRun* b) {
        return std::pair{b->started, b->id} < std::pair{a->started, a->id};
    });
    if (runs.empty()) {
        return out;
    }
    const IndexedRun& newest = *runs.front();
    out.maker = newest.maker;
    out.model = newest.model;
    out.serial = newest.serial;
    bool passed_since = false;
    std::set<std::string> earlier;
    for (const IndexedRun* run : runs) {
        // A unit that passed was handed over: what comes before it is another repair.
        passed_since = passed_since || (run != &newest && run->verdict == "pass");
        if (run == &newest || same_repair(newest, *run, passed_since)) {
            out.now.push_back(*run);
        } else {
            out.earlier.push_back(*run);
            earlier.insert(run->id);
        }
    }

    std::vector<RecordedFault> now;
    const auto of_now =
        failures(own, [&](const IndexedRun& run) { return !earlier.contains(run.id); });
    for (const FaultOfRun& one : of_now) {
        const auto known = std::find_if(now.begin(), now.end(), [&](const RecordedFault& fault) {
            return fault.same_place(one.fault);
        });
        if (known == now.end()) {
            now.push_back(one.fault);
            continue;
        }
        for (const std::string& label : one.fault.labels) {
            if (std::find(known->labels.begin(), known->labels.end(), label) ==
                known->labels.end()) {
                known->labels.push_back(label);
            }
        }
    }
    auto before = failures(own, [&](const IndexedRun& run) { return earlier.contains(run.id); });
    std::reverse(before.begin(), before.end());
    for (const RecordedFault& fault : now) {
        FaultOfNow& one = out.faults.emplace_back();
        one.fault = fault;
        one.passed = last_passed(own, earlier, fault);
        for (const FaultOfRun& then : before) {
            const auto near = nearness(fault, then.fault);
            if (near && *near < one.recurrence) {
                one.recurrence = *near;
                one.earlier = then.fault;
                one.when = then.run->started;
                one.job = then.run->job;
            }
        }
    }
    for (const FaultOfRun& then : before) {
        const auto known = [&](const RecordedFault& fault) { return fault.same_place(then.fault); };
        const bool told = std::any_of(now.begin(), now.end(), known) ||
                          std::any_of(out.only_earlier.begin(), out.only_earlier.end(),
                                      [&](const auto& one) { return known(one.first); });
        if (!told) {
            out.only_earlier.emplace_back(then.fault, then.run->started);
        }
    }
    out.written = written_of(out.earlier);
    out.elsewhere = elsewhere(out, failed);
    return out;
}

}  // namespace afterload::runner
