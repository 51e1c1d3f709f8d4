#include "runner/record/history_text.hpp"

#include "analysis/wording.hpp"
#include "runner/papers/number_text.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <set>
#include <vector>

namespace afterload::runner {
namespace {

// Twenty-four lines in all: head 2, faults 1 + 7, before 1, written 1 + 6, elsewhere 1 + 4.
constexpr std::size_t most_faults = 6;
constexpr std::size_t most_written = 5;
constexpr std::size_t most_elsewhere = 3;
constexpr std::size_t path_column = 30;
constexpr std::size_t answer_column = 44;
constexpr std::size_t longest_outside_text = 40;

/// "2026-03-04"
std::string day(const std::string& stamp) {
    return stamp.substr(0, 10);
}

std::string repair(const std::string& when, const std::string& job) {
    return day(when) + (job.empty() ? "" : ", ticket " + job);
}

class HistoryScreen {
public:
    HistoryScreen(const UnitHistory& history, const Terminal& terminal)
        : history_{history}, terminal_{terminal} {}

    std::string text() {
        head();
        faults();
        written();
        elsewhere();
        return std::move(out_);
    }

private:
    /// One line, whatever stands in it.
    void one_line(std::size_t indent, const std::string& words,
                  Emphasis emphasis = Emphasis::plain) {
        TextLine line{terminal_};
        line.to(indent).put(cut(words, terminal_.width - indent, terminal_), emphasis);
        out_ += line.text();
    }
    void more(std::size_t all, std::size_t shown) {
        if (all > shown) {
            one_line(2, fmt::format("and {} more, which --json has", all - shown), Emphasis::faint);
        }
    }

    void head() {
        std::set<std::string> repairs;
        for (const IndexedRun& run : history_.earlier) {
            repairs.insert(run.job.empty() ? day(run.started) : run.job);
        }
        const std::size_t runs = history_.now.size() + history_.earlier.size();
        one_line(
            0,
            fmt::format("{}  serial {}: {}, {} before this one",
                        cut(history_.maker + " " + history_.model, longest_outside_text, terminal_),
                        cut(history_.serial, 20, terminal_), how_many(runs, "run"),
                        how_many(repairs.size(), "repair")),
            Emphasis::bold);
        const IndexedRun& newest = history_.now.front();
        one_line(0, fmt::format("Now: {}, {}, {}: {}", repair(newest.started, newest.job),
                                analysis::spoken(newest.stage), newest.sequence,
                                newest.state == "done" ? newest.verdict : newest.state));
    }

    [[nodiscard]] std::string answer(const FaultOfNow& now) const {
        const std::string then = repair(now.when, now.job);
        const std::string passed = now.passed.empty() ? "" : ", passed " + day(now.passed);
        switch (now.recurrence) {
            case Recurrence::same:
                return fmt::format("the same: {}{}", then,
                                   now.passed > now.when ? passed : std::string{});
            case Recurrence::other_channel:
                return fmt::format("then {}: {}{}", words(*now.earlier), then, passed);
            case Recurrence::other_path:
                return fmt::format("then {}: {}{}", now.earlier->path, then, passed);
            case Recurrence::first:
                break;
        }
        return now.passed.empty() ? "for the first time; not measured before"
                                  : "for the first time" + passed;
    }

    void faults() {
        if (history_.faults.empty()) {
            one_line(0, "Nothing failed in this repair.");
        } else {
            one_line(0, "Same fault, same channel, same path?", Emphasis::underline);
        }
        const std::size_t shown = std::min(history_.faults.size(), most_faults);
        for (std::size_t i = 0; i < shown; ++i) {
            const FaultOfNow& now = history_.faults[i];
            TextLine line{terminal_};
            const std::size_t figures = now.fault.labels.size();
            std::string what = words(now.fault);
            what += figures > 1 ? fmt::format(" ({})", figures) : "";
            line.to(2).put(cut(what, path_column - 3, terminal_));
            line.to(path_column)
                .put(cut(now.fault.path, answer_column - path_column - 1, terminal_));
            const std::size_t left =
                terminal_.width > answer_column + 10 ? terminal_.width - answer_column : 36;
            line.to(answer_column)
                .put(cut(answer(now), left, terminal_),
                     now.recurrence == Recurrence::same ? Emphasis::bold : Emphasis::plain);
            out_ += line.text();
        }
        more(history_.faults.size(), shown);
        if (!history_.only_earlier.empty()) {
            std::vector<std::string> parts;
            for (const auto& [fault, when] : history_.only_earlier) {
                parts.push_back(fmt::format("{} ({})", words(fault), day(when)));
            }
            one_line(0, fmt::format("Before and not now: {}", fmt::join(parts, "; ")));
        }
    }

    void written() {
        std::vector<std::string> lines;
        for (const WrittenThen& then : history_.written) {
            for (const std::string& line : then.lines) {
                lines.push_back(repair(then.when, then.job) + ": " + line);
            }
        }
        if (lines.empty()) {
            return;
        }
        one_line(0, "Written then", Emphasis::underline);
        const std::size_t shown = std::min(lines.size(), most_written);
        for (std::size_t i = 0; i < shown; ++i) {
            one_line(2, lines[i]);
        }
        more(lines.size(), shown);
    }

    void elsewhere() {
        if (history_.elsewhere.empty()) {
            return;
        }
        one_line(0, "The same figure and path in other units of the model", Emphasis::underline);
        const std::size_t shown = std::min(history_.elsewhere.size(), most_elsewhere);
        for (std::size_t i = 0; i < shown; ++i) {
            const WrittenThen& other = history_.elsewhere[i];
            const auto cause =
                std::find_if(other.lines.begin(), other.lines.end(),
                             [](const std::string& line) { return line.starts_with("cause: "); });
            one_line(2, fmt::format(
                            "{}, {}, {}: {}", other.serial, day(other.when), other.fault,
                            cause == other.lines.end() ? std::string{"no cause written"} : *cause));
        }
        more(history_.elsewhere.size(), shown);
    }

    const UnitHistory& history_;
    const Terminal& terminal_;
    std::string out_;
};

Json fault_json(const RecordedFault& fault) {
    Json out{{"figure", name(fault.kind)}, {"channel", fault.channel}};
    if (fault.pair) {
        out["pair"] = Json::array({fault.pair->first, fault.pair->second});
    }
    out["path"] = fault.path;
    out["labels"] = fault.labels;
    return out;
}

Json written_json(const std::vector<WrittenThen>& all) {
    Json out = Json::array();
    for (const WrittenThen& one : all) {
        Json entry{{"serial", one.serial}, {"started", one.when}, {"job", one.job}};
        if (!one.fault.empty()) {
            entry["fault"] = one.fault;
        }
        entry["words"] = one.lines;
        out.push_back(std::move(entry));
    }
    return out;
}

Json ids(const std::vector<IndexedRun>& runs) {
    Json out = Json::array();
    for (const IndexedRun& run : runs) {
        out.push_back(run.id);
    }
    return out;
}

}  // namespace

std::string history_text(const UnitHistory& history, const Terminal& terminal) {
    return HistoryScreen{history, terminal}.text();
}

Json history_json(const UnitHistory& history) {
    Json out;
    out["schema"] = "afterload/history/1";
    out["maker"] = history.maker;
    out["model"] = history.model;
    out["serial"] = history.serial;
    out["now"] = ids(history.now);
    out["earlier"] = ids(history.earlier);
    out["faults"] = Json::array();
    for (const FaultOfNow& now : history.faults) {
        Json one = fault_json(now.fault);
        one["recurrence"] = name(now.recurrence);
        if (now.earlier) {
            one["earlier"] = fault_json(*now.earlier);
            one["earlier"]["started"] = now.when;
            one["earlier"]["job"] = now.job;
        }
        one["passed"] = now.passed.empty() ? Json{} : Json(now.passed);
        out["faults"].push_back(std::move(one));
    }
    out["only_earlier"] = Json::array();
    for (const auto& [fault, when] : history.only_earlier) {
        Json one = fault_json(fault);
        one["started"] = when;
        out["only_earlier"].push_back(std::move(one));
    }
    out["written"] = written_json(history.written);
    out["elsewhere"] = written_json(history.elsewhere);
    return out;
}

}  // namespace afterload::runner
