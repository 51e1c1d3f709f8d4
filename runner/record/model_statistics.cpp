#include "runner/record/model_statistics.hpp"

#include "analysis/likeness.hpp"
#include "analysis/median.hpp"
#include "analysis/rig_drift.hpp"

#include <algorithm>
#include <charconv>
#include <chrono>
#include <map>
#include <set>
#include <string_view>
#include <unordered_map>
#include <utility>

namespace afterload::runner {
namespace {

/// A reading with the run it came from.
struct Taken {
    const IndexedReading* reading = nullptr;
    const IndexedRun* run = nullptr;
};

int number_at(std::string_view text, std::size_t at, std::size_t length) {
    int number = 0;
    if (at + length <= text.size()) {
        std::from_chars(text.data() + at, text.data() + at + length, number);
    }
    return number;
}

/// Days since 1970 of an RFC 3339 stamp in UTC, to the minute.
double day_of(const std::string& stamp) {
    const std::chrono::year_month_day date{
        std::chrono::year{number_at(stamp, 0, 4)},
        std::chrono::month{static_cast<unsigned>(number_at(stamp, 5, 2))},
        std::chrono::day{static_cast<unsigned>(number_at(stamp, 8, 2))}};
    const auto days = std::chrono::sys_days{date}.time_since_epoch().count();
    return static_cast<double>(days) +
           (number_at(stamp, 11, 2) * 60 + number_at(stamp, 14, 2)) / 1440.0;
}

/// What the golden box read, by point and bench.
class GoldenBox {
public:
    explicit GoldenBox(const FoundReadings& found) : points_{found.points} {
        for (const IndexedReading& reading : found.readings) {
            const auto run = found.runs.find(reading.run);
            if (run != found.runs.end() && !reading.bound) {
                readings_[reading.point][run->second.bench].push_back(
                    {day_of(run->second.started), reading.value});
            }
        }
    }

    /// Of each bench, all that the box read at what is the same point as `point`. Load and volume
    /// may differ: the box is no amplifier.
    [[nodiscard]] std::map<std::string, std::vector<analysis::GoldenReading>> at(
        const FigurePoint& point) const {
        std::map<std::string, std::vector<analysis::GoldenReading>> found;
        const Figure wanted = point.figure();
        for (const auto& [number, by_bench] : readings_) {
            const auto own = points_.find(number);
            if (own != points_.end() && analysis::same_point(own->second.figure(), wanted)) {
                for (const auto& [bench, readings] : by_bench) {
                    auto& all = found[bench];
                    all.insert(all.end(), readings.begin(), readings.end());
                }
            }
        }
        return found;
    }

private:
    const NumberedPoints& points_;
    std::map<std::int64_t, std::map<std::string, std::vector<analysis::GoldenReading>>> readings_;
};

double quartile_distance(const analysis::Population& among) {
    return among.upper.value - among.lower.value;
}

StatisticRow row_of(const FigurePoint& point, const std::vector<Taken>& taken,
                    const std::string& serial, const GoldenBox& golden) {
    StatisticRow row;
    row.point = point;
    std::map<std::string, analysis::RigDrift> drifts;
    for (auto& [bench, readings] : golden.at(point)) {
        row.golden += readings.size();
        if (auto drift = analysis::rig_drift(point.kind, readings)) {
            row.drift = std::max(row.drift.value_or(0.0), drift->range());
            drifts.emplace(bench, *std::move(drift));
        }
    }
    std::vector<analysis::UnitReading> others;
    std::vector<analysis::UnitReading> as_read;
    std::vector<double> uncertainties;
    for (const auto& [reading, run] : taken) {
        analysis::UnitReading one{reading->value, reading->bound};
        const analysis::UnitReading raw = one;
        if (const auto drift = drifts.find(run->bench); drift != drifts.end()) {
            one.value = drift->second.taken_off(one.value, day_of(run->started));
            row.taken_off = true;
        }
        uncertainties.push_back(reading->u_k1);
        if (!serial.empty() && run->serial == serial) {
            row.unit = PlacedUnit{one.value, one.bound, 0.0, false, run->id};
            continue;
        }
        others.push_back(one);
        as_read.push_back(raw);
    }
    row.u_k1 = uncertainties.empty() ? 0.0 : analysis::median_of(uncertainties);
    row.among = analysis::population(others);
    if (row.taken_off) {
        row.spread = quartile_distance(analysis::population(as_read));
    }
    if (row.unit) {
        row.unit->below = analysis::below(others, row.unit->value);
        row.unit->stands_out = !row.unit->bound && analysis::stands_out(row.among, row.unit->value);
    }
    return row;
}

}  // namespace

ModelStatistics model_statistics(const FoundReadings& of_model, const FoundReadings& golden,
                                 const std::string& serial, const std::string& stage) {
    ModelStatistics out;
    out.serial = serial;
    out.stage = stage;
    out.golden_runs = golden.runs.size();
    std::set<std::string> golden_runs;
    for (const auto& [number, run] : golden.runs) {
        out.golden = run.serial;
        golden_runs.insert(run.id);
    }
    std::set<std::string> serials;
    std::map<std::int64_t, const IndexedRun*> counted;
    for (const auto& [number, run] : of_model.runs) {
        out.maker = run.maker;
        out.model = run.model;
        const bool wanted =
            stage.empty() ? run.stage != name(Stage::as_received) : run.stage == stage;
        if (!wanted || golden_runs.contains(run.id)) {
            continue;
        }
        if (run.serial.empty()) {
            ++out.without_serial;
            continue;
        }
        serials.insert(run.serial);
        counted.emplace(number, &run);
    }
    out.units = serials.size();
    out.runs = counted.size();

    // The last reading of each unit at each point: they come oldest first.
    std::map<std::int64_t, std::unordered_map<std::string_view, Taken>> latest;
    std::int64_t run_number = 0;
    const IndexedRun* run = nullptr;
    for (const IndexedReading& reading : of_model.readings) {
        if (reading.run != run_number || run == nullptr) {
            run_number = reading.run;
            const auto found = counted.find(run_number);
            run = found == counted.end() ? nullptr : found->second;
        }
        if (run != nullptr) {
            latest[reading.point][run->serial] = {&reading, run};
        }
    }

    // Groups in the order of their first point, as on a sheet.
    std::vector<std::string> paths;
    for (const auto& [number, point] : of_model.points) {
        if (latest.contains(number) &&
            std::find(paths.begin(), paths.end(), point.path) == paths.end()) {
            paths.push_back(point.path);
        }
    }
    const GoldenBox box{golden};
    for (const std::string& path : paths) {
        for (const auto& [number, by_serial] : latest) {
            const auto point = of_model.points.find(number);
            const bool shown = serial.empty() ? by_serial.size() > 1
                                              : by_serial.contains(std::string_view{serial});
            if (point == of_model.points.end() || point->second.path != path || !shown) {
                continue;
            }
            std::vector<Taken> taken;
            for (const auto& [of, one] : by_serial) {
                taken.push_back(one);
            }
            out.rows.push_back(row_of(point->second, taken, serial, box));
        }
    }
    return out;
}

}  // namespace afterload::runner
