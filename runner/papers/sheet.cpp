#include "runner/papers/sheet.hpp"

#include "runner/compare/run_comparison.hpp"
#include "runner/compare/written_change.hpp"
#include "runner/hints/hint_text.hpp"
#include "runner/papers/figure_rows.hpp"
#include "runner/papers/figure_words.hpp"
#include "runner/papers/number_text.hpp"
#include "runner/papers/soak_summary.hpp"
#include "runner/papers/time_text.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>
#include <optional>
#include <utility>
#include <vector>

namespace afterload::runner {

namespace {

using analysis::VerdictKind;

constexpr std::size_t left_end = 30;
constexpr std::size_t right_end = 38;
constexpr std::size_t uncertainty_end = 46;
constexpr std::size_t unit_start = 47;
constexpr std::size_t limit_start = 50;
constexpr std::size_t mark_start = 58;
constexpr std::size_t verdict_start = 64;
constexpr std::size_t narrowest_full = 72;
constexpr std::size_t longest_outside_text = 40;
constexpr std::size_t longest_reason = 480;  // six lines
constexpr double no_mains = 0.0;

std::string verdict_word(const FigureRow& row) {
    return row.verdict ? std::string{analysis::in_words(*row.verdict)} : std::string{};
}

std::string limit_with_mark(const WrittenRow& row) {
    return row.house ? row.limit + " h" : row.limit;
}

std::string assumed_text(const FigureRow& row) {
    const std::string assumed = assumed_words(row);
    return assumed.empty() ? assumed : fmt::format("assumed, not stated: {}", assumed);
}

/// "Bench time 55 s: recording 15 s, settling 2.7 s, …"; nothing for a run that spent none.
std::string bench_time_text(const RunDocument& run) {
    BenchTime time;
    for (const StepResult& step : run.steps) {
        time += step.bench_time;
    }
    std::vector<std::string> parts;
    for (const auto& [what, spent] :
         {std::pair{"recording", time.recording}, std::pair{"settling", time.settling},
          std::pair{"finding levels", time.level_finding}, std::pair{"held at level", time.dwell},
          std::pair{"taken again", time.retakes}, std::pair{"switching and prompts", time.other}}) {
        if (spent >= Seconds{0.05}) {
            parts.push_back(fmt::format("{} {}", what, duration_words(spent)));
        }
    }
    return parts.empty() ? std::string{}
                         : fmt::format("Bench time {}: {}.", duration_words(time.total()),
                                       fmt::join(parts, ", "));
}

class Sheet {
public:
    Sheet(const RunDocument& run, const Terminal& terminal, const Beside& beside)
        : run_{run}, terminal_{terminal}, beside_{beside}, groups_{figure_rows(run)} {
        if (beside.before != nullptr) {
            comparison_ = compared(*beside.before, run, {beside.before, &run});
        }
    }

    std::string written_with(std::string_view report_path) {
        if (soaked()) {
            keep_what_stands_out();
        }
        head();
        blank();
        for (const StepResult& step : run_.steps) {
            if (step.soak) {
                out_ += soak_summary(run_, step, terminal_);
                blank();
            }
        }
        figures();
        blank();
        look_here(report_path);
        gates();
        events();
        remarks();
        foot();
        result(report_path);
        return std::move(out_);
    }

private:
    [[nodiscard]] bool soaked() const {
        return std::any_of(run_.steps.begin(), run_.steps.end(),
                           [](const StepResult& step) { return bool{step.soak}; });
    }
    [[nodiscard]] TextLine line() const { return TextLine{terminal_}; }
    void add(const TextLine& line) { out_ += line.text(); }
    void blank() { out_ += '\n'; }
    /// Below 72 columns, and where the longest verdict would not fit beside the numbers.
    [[nodiscard]] bool narrow() const {
        return terminal_.width < narrowest_full ||
               verdict_start + longest_verdict() > terminal_.width;
    }

    [[nodiscard]] std::size_t longest_verdict() const {
        std::size_t longest = 6;
        for (const RowGroup& group : groups_) {
            for (const FigureRow& row : group.rows) {
                longest = std::max(longest, row.verdict ? verdict_word(row).size() : 10);
            }
        }
        return longest;
    }

    /// `left` and, when both fit, `end` flush right; else on two lines.
    void both_ends(TextLine left, std::string_view end, Emphasis emphasis = Emphasis::plain) {
        const std::size_t length = columns(for_terminal(end, terminal_));
        if (left.width() + length + 1 <= terminal_.width) {
            add(left.ending_at(terminal_.width, end, emphasis));
            return;
        }
        add(left);
        out_ += wrapped(end, 2, 2, terminal_, emphasis);
    }

    void head() {
        const std::string unit = cut(fmt::format("{} {}", run_.unit.maker, run_.unit.model),
                                     longest_outside_text, terminal_);
        std::string serial;
        if (!run_.serial.empty()) {
            serial += "  serial " + cut(run_.serial, 24, terminal_);
        }
        if (!run_.job.empty()) {
            serial += "  ticket " + cut(run_.job, 16, terminal_);
        }
        std::string stage{name(run_.stage)};
        std::replace(stage.begin(), stage.end(), '_', ' ');
        TextLine first = line();
        first.put(unit, Emphasis::bold);
        if (first.width() + columns(serial) <= terminal_.width) {
            first.put(serial);
            both_ends(std::move(first), "stage " + stage);
        } else {
            add(first);
            out_ += wrapped(serial + "  stage " + stage, 2, 2, terminal_);
        }

        std::vector<std::string> parts{cut(run_.sequence_name, longest_outside_text, terminal_)};
        std::string bench = "bench " + cut(run_.bench.name, 24, terminal_);
        if (run_.bench.simulated) {
            bench += " (simulated)";
        } else if (run_.bench.stand_in) {
            bench += " (stand-in for a sound card)";
        }
        parts.push_back(std::move(bench));
        if (!run_.started.empty()) {
            parts.push_back(stamp_text(run_.started));
        }
        parts.push_back(duration_words(run_.lasted));
        if (const DrivenAs* driven = first_record()) {
            if (driven->mains_voltage > no_mains) {
                parts.push_back(fmt::format("{:.1f} V", driven->mains_voltage));
            }
            if (std::isfinite(driven->ambient)) {
                parts.push_back(fmt::format("{:.0f} °C", driven->ambient));
            }
        }
        out_ +=
            wrapped(fmt::format("{}", fmt::join(parts, ", ")), 0, 2, terminal_, Emphasis::faint);
    }

    [[nodiscard]] const DrivenAs* first_record() const {
        for (const StepResult& step : run_.steps) {
            for (const StoredRecord& record : step.records) {
                return &record.driven;
            }
        }
        return nullptr;
    }

    /// A soak's morning fits one screen: what plainly passed stands in the report.
    void keep_what_stands_out() {
        for (RowGroup& group : groups_) {
            const std::size_t before = group.rows.size();
            std::erase_if(group.rows, [](const FigureRow& row) {
                return !row.verdict || row.verdict == VerdictKind::pass ||
                       row.verdict == VerdictKind::conditional_pass;
            });
            left_out_ += before - group.rows.size();
        }
        std::erase_if(groups_, [](const RowGroup& group) { return group.rows.empty(); });
    }

    void figures() {
        if (left_out_ > 0) {
            out_ += wrapped(
                fmt::format("{} rows that pass or are not scored stand in the report.", left_out_),
                0, 0, terminal_, Emphasis::faint);
            if (groups_.empty()) {
                return;
            }
        }
        if (groups_.empty()) {
            out_ += wrapped("No figure was measured.", 0, 0, terminal_);
            return;
        }
        if (!narrow()) {
            add(line()
                    .ending_at(left_end, "left", Emphasis::faint)
                    .ending_at(right_end, "right", Emphasis::faint)
                    .ending_at(uncertainty_end + 1, "±U, k=2", Emphasis::faint)
                    .to(limit_start)
                    .put("limit", Emphasis::faint)
                    .to(verdict_start)
                    .put("verdict", Emphasis::faint));
        }
        for (const RowGroup& group : groups_) {
            heading(group);
            for (const FigureRow& row : group.rows) {
                if (narrow()) {
                    narrow_row(row);
                } else {
                    full_row(row);
                }
                before(row);
                below(row);
            }
        }
    }

    [[nodiscard]] const ComparedRow* earlier(const FigureRow& row) const {
        if (!comparison_) {
            return nullptr;
        }
        for (const ComparedGroup& group : comparison_->groups) {
            for (const ComparedRow& candidate : group.rows) {
                for (const ComparedFigure* figure : candidate.figures()) {
                    if (figure->after == row.left || figure->after == row.right) {
                        return &candidate;
                    }
                }
            }
        }
        return nullptr;
    }

    /// What the row read in the earlier run, below its numbers.
    void before(const FigureRow& row) {
        const ComparedRow* was = earlier(row);
        if (was == nullptr) {
            return;
        }
        const double factor = written(row).unit.factor;
        const auto side = [&](const std::optional<ComparedFigure>& figure) -> std::string {
            if (!figure) {
                return {};
            }
            return figure->difference.kind == analysis::ChangeKind::not_comparable
                       ? std::string{"-"}
                       : before_text(*figure, factor);
        };
        const std::string left = side(was->left);
        const std::string right = side(was->right);
        const std::string word = change_word(*was);
        if (narrow()) {
            std::string text = "before";
            text += left.empty() ? "" : fmt::format(" {}{}", row.single ? "" : "L ", left);
            text += right.empty() ? "" : fmt::format("  R {}", right);
            out_ += wrapped(word.empty() ? text : fmt::format("{}: {}", text, word), 2, 2,
                            terminal_, Emphasis::faint);
            return;
        }
        add(line()
                .to(4)
                .put("before", Emphasis::faint)
                .ending_at(left_end, left, Emphasis::faint)
                .ending_at(right_end, right, Emphasis::faint)
                .to(verdict_start)
                .put(word, Emphasis::faint));
    }

    void heading(const RowGroup& group) {
        const std::string title =
            cut(group.heading.empty() ? "Figures" : group.heading, longest_outside_text, terminal_);
        TextLine first = line();
        first.put(title, Emphasis::bold);
        const std::string conditions = for_terminal(group.conditions, terminal_);
        if (first.width() + 2 + columns(conditions) <= terminal_.width) {
            if (!conditions.empty()) {
                first.to(first.width() + 2).put(conditions, Emphasis::faint);
            }
            add(first);
            return;
        }
        add(first);
        out_ += wrapped(conditions, 2, 2, terminal_, Emphasis::faint);
    }

    void put_verdict(TextLine& row_line, const FigureRow& row, std::size_t column) {
        if (row.verdict) {
            row_line.to(column).put(verdict_word(row), emphasis_of(*row.verdict));
        } else {
            row_line.to(column).put("not scored", Emphasis::faint);
        }
    }

    void full_row(const FigureRow& row) {
        const WrittenRow numbers = written(row);
        TextLine text = line();
        text.to(2);
        const std::size_t most = left_end - 3 - std::max<std::size_t>(columns(numbers.left), 5);
        std::string label = cut(row.label, 2 * terminal_.width, terminal_);
        if (const std::size_t noise = label.find("THD + noise");
            columns(label) > most && noise != std::string::npos) {
            label.replace(noise, 11, "THD+N");
        }
        if (columns(label) > most) {
            out_ += wrapped(label, 2, 4, terminal_);
        } else {
            text.put(label);
        }
        text.ending_at(left_end, numbers.left);
        text.ending_at(right_end, numbers.right);
        text.ending_at(uncertainty_end, numbers.expanded);
        if (!numbers.unit.symbol.empty()) {
            text.to(unit_start).put(numbers.unit.symbol);
        }
        const std::string limit = limit_with_mark(numbers);
        const bool fits = limit_start + columns(for_terminal(limit, terminal_)) <= mark_start + 1;
        if (!limit.empty()) {
            text.to(limit_start).put(fits ? limit : std::string{"below"});
        }
        if (row.verdict) {
            put_mark(text, *row.verdict, mark_start);
        }
        put_verdict(text, row, verdict_start);
        add(text);
        if (!fits) {
            out_ +=
                wrapped(fmt::format("limit {} {}", limit, numbers.unit.symbol), 4, 4, terminal_);
        }
    }

    static void put_mark(TextLine& text, VerdictKind kind, std::size_t column) {
        const std::string_view picture = mark(kind);
        const std::size_t start = picture.find_first_not_of(' ');
        const std::size_t end = picture.find_last_not_of(' ');
        text.to(column + start).put(picture.substr(start, end - start + 1));
    }

    [[nodiscard]] std::size_t narrow_verdict() const {
        const std::size_t longest = longest_verdict();
        return terminal_.width > longest + 8 ? terminal_.width - longest : 8;
    }

    void narrow_row(const FigureRow& row) {
        const WrittenRow numbers = written(row);
        const std::size_t verdict_at = narrow_verdict();
        const std::string label = cut(row.label, 4 * terminal_.width, terminal_);
        TextLine first = line();
        if (columns(label) + 8 > verdict_at) {
            out_ += wrapped(label, 0, 2, terminal_);
        } else {
            first.put(label);
        }
        if (row.verdict) {
            put_mark(first, *row.verdict, verdict_at - 6);
        }
        put_verdict(first, row, verdict_at);
        add(first);

        const std::string unit =
            numbers.unit.symbol.empty() ? std::string{} : " " + numbers.unit.symbol;
        std::string values;
        if (!numbers.left.empty()) {
            values += row.single ? numbers.left : "L " + numbers.left;
        }
        if (!numbers.right.empty()) {
            values += (values.empty() ? "R " : "  R ") + numbers.right;
        }
        values += numbers.expanded.empty() ? unit : fmt::format("  ±{}{}", numbers.expanded, unit);
        const std::string limit =
            numbers.limit.empty()
                ? std::string{}
                : fmt::format("limit {}{}{}", numbers.limit, unit, numbers.house ? " h" : "");
        TextLine second = line();
        second.to(2).put(values);
        const std::size_t length = columns(for_terminal(limit, terminal_));
        if (limit.empty() || second.width() + 2 + length <= terminal_.width) {
            if (!limit.empty()) {
                const std::size_t wanted = verdict_at > 8 ? verdict_at - 8 : 0;
                const std::size_t latest = terminal_.width - length;
                second.to(std::min(std::max(wanted, second.width() + 2), latest)).put(limit);
            }
            add(second);
            return;
        }
        add(second);
        out_ += wrapped(limit, 2, 2, terminal_);
    }

    void below(const FigureRow& row) {
        const std::size_t indent = narrow() ? 2 : 4;
        if (!row.reason.empty()) {
            out_ += wrapped(cut(row.reason, longest_reason, terminal_), indent, indent, terminal_,
                            Emphasis::faint);
        }
        if (const std::string assumed = assumed_text(row); !assumed.empty()) {
            out_ += wrapped(assumed, indent, indent, terminal_, Emphasis::faint);
        }
        for (const ScoredFigure* entry : row.figures()) {
            for (const Remark* remark : beside_.of_figure(entry->id)) {
                out_ += wrapped(said(*remark, row.single ? "" : channel_words(entry->figure)),
                                indent, indent, terminal_);
            }
        }
    }

    [[nodiscard]] std::string said(const Remark& remark, const std::string& channel) const {
        const std::string text = cut(remark_text(remark), longest_reason, terminal_);
        return channel.empty() ? text : fmt::format("{}: {}", channel, text);
    }

    /// What persons said of the whole run.
    void remarks() {
        for (const Remark* remark : beside_.of_run()) {
            out_ += wrapped(said(*remark, {}), 0, 2, terminal_);
        }
    }

    /// Where to look first, when something failed or a control seems to stand in the wrong place.
    void look_here(std::string_view report_path) {
        const std::size_t slash = report_path.rfind('/');
        const std::string_view folder =
            slash == std::string_view::npos ? std::string_view{} : report_path.substr(0, slash);
        if (const std::string lines = look_first(beside_.hints_of(run_), folder, terminal_);
            !lines.empty()) {
            out_ += lines;
            blank();
        }
    }

    /// What had to be so before anything was driven: no rows, one line a quantity and outcome.
    void gates() {
        std::vector<std::pair<std::string, std::string>> lines;  // outcome, readings
        for (const StepResult& step : run_.steps) {
            for (const SlowReading& reading : step.readings) {
                if (!reading.gate) {
                    continue;
                }
                const auto kind = figure_kind(reading.quantity);
                std::string quantity{kind ? words(*kind) : std::string_view{reading.quantity}};
                std::replace(quantity.begin(), quantity.end(), '_', ' ');
                const std::string value =
                    fmt::format("{} {}", name(reading.channel),
                                quantity_text(reading.value, reading_symbol(reading.quantity), 3));
                const std::string outcome = fmt::format(
                    "{}; {}", quantity, reading.outcome.empty() ? "not judged" : reading.outcome);
                const auto same = std::find_if(lines.begin(), lines.end(), [&](const auto& line) {
                    return line.first == outcome;
                });
                if (same != lines.end()) {
                    same->second += ", " + value;
                } else {
                    lines.emplace_back(outcome, value);
                }
            }
        }
        for (const auto& [outcome, values] : lines) {
            const std::size_t end = outcome.find(';');
            out_ += wrapped(fmt::format("Before any drive: {} {}{}.", outcome.substr(0, end),
                                        values, outcome.substr(end)),
                            0, 2, terminal_);
        }
    }

    static std::string reading_symbol(std::string_view quantity) {
        const auto kind = figure_kind(quantity);
        return kind ? std::string{shown_unit(*kind, 1.0).symbol} : std::string{};
    }

    void events() {
        int retakes = 0;
        for (const StepResult& step : run_.steps) {
            retakes += static_cast<int>(step.retakes.size());
            if (step.soak) {
                continue;  // its summary has them
            }
            for (const RunEvent& event : step.events) {
                std::string blame{name(event.blame)};
                std::replace(blame.begin(), blame.end(), '_', ' ');
                const std::string whose = event.channel == 0   ? "both channels"
                                          : event.channel == 1 ? "left"
                                                               : "right";
                const std::string size = event.unit.empty()
                                             ? std::string{}
                                             : ", " + quantity_text(event.size, event.unit, 3);
                out_ += wrapped(
                    fmt::format("{}  {}, {}{}; {}{}{}", clock_text(event.since_start), event.kind,
                                whose, size, blame, event.note.empty() ? "" : ": ", event.note),
                    0, 9, terminal_);
            }
        }
        if (retakes > 0) {
            out_ += wrapped(fmt::format("{} taken again because of the rig.",
                                        retakes == 1 ? std::string{"1 record"}
                                                     : fmt::format("{} records", retakes)),
                            0, 2, terminal_);
        }
    }

    void foot() {
        bool house = false;
        bool maker = false;
        for (const RowGroup& group : groups_) {
            for (const FigureRow& row : group.rows) {
                if (const RatedFigure* rating = row.rating()) {
                    const bool own = rating->origin == RatedFigure::Origin::house;
                    house = house || own;
                    maker = maker || !own;
                }
            }
        }
        const std::string sheet_name = "rating sheet " + cut(run_.unit.model, 24, terminal_);
        if (comparison_) {
            out_ += wrapped(
                fmt::format("Before: {}, {}.", cut(beside_.before->sequence_name, 40, terminal_),
                            stamp_text(cut(beside_.before->started, 32, terminal_))),
                0, 0, terminal_);
        }
        std::string notes;
        if (house) {
            notes += maker ? fmt::format("h: house rule, else {}.  ", sheet_name)
                           : std::string{"h: house rule.  "};
        } else if (maker) {
            notes += fmt::format("Limits: {}.  ", sheet_name);
        }
        // Nobody looks for the whole rating in a soak; how much was not tested stands in the last
        // line.
        if (!run_.not_tested.empty() && !soaked()) {
            std::vector<std::string> parts;
            for (const std::string& part : run_.not_tested) {
                parts.push_back(cut(part, 80, terminal_));
            }
            notes += fmt::format("Not tested: {}.", fmt::join(parts, ", "));
        }
        out_ += wrapped(notes, 0, 0, terminal_);
        if (run_.retest) {
            out_ += wrapped(fmt::format("Retest of {} ({}). Not measured again: {}.",
                                        cut(run_.retest->run, 60, terminal_), run_.retest->verdict,
                                        run_.retest->stands.empty()
                                            ? std::string{"nothing"}
                                            : run_.retest->standing() + ", as they were there"),
                            0, 0, terminal_);
        }
        out_ += wrapped(bench_time_text(run_), 0, 0, terminal_);
        out_ += wrapped(counts_text(count_rows(groups_)), 0, 0, terminal_);
    }

    void result(std::string_view report_path) {
        std::string word{name(run_.verdict)};
        std::transform(word.begin(), word.end(), word.begin(), [](char c) {
            return c >= 'a' && c <= 'z' ? static_cast<char>(c - 'a' + 'A') : c;
        });
        const std::string end = fmt::format("exit status {}", exit_status(run_));
        const bool inverse =
            run_.verdict == RunVerdict::fail || run_.verdict == RunVerdict::stopped;
        const std::string shown = inverse ? fmt::format(" {} ", word) : word;
        const std::string cause = for_terminal(result_cause(run_), terminal_);
        TextLine text = line();
        text.put(shown, inverse                                    ? Emphasis::inverse
                        : run_.verdict == RunVerdict::inconclusive ? Emphasis::underline
                                                                   : Emphasis::bold);
        const std::size_t gap = inverse ? 1 : 2;
        if (text.width() + gap + columns(cause) + 2 + end.size() <= terminal_.width) {
            if (!cause.empty()) {
                text.to(text.width() + gap).put(cause);
            }
            add(text.ending_at(terminal_.width, end));
        } else {
            add(text.ending_at(terminal_.width, end));
            out_ += wrapped(cause, 2, 2, terminal_);
        }
        if (!report_path.empty()) {
            const std::size_t slash = report_path.rfind('/');
            const std::size_t file = slash == std::string_view::npos ? 0 : slash + 1;
            TextLine path = line();
            path.put(report_path.substr(0, file));
            path.put(report_path.substr(file), Emphasis::act);
            add(path);
        }
    }

    const RunDocument& run_;
    const Terminal& terminal_;
    const Beside& beside_;
    std::vector<RowGroup> groups_;
    std::optional<RunComparison> comparison_;
    std::size_t left_out_ = 0;
    std::string out_;
};

std::string listed(const std::vector<std::string>& parts, std::size_t most) {
    if (parts.size() <= most) {
        return fmt::format("{}", fmt::join(parts, "; "));
    }
    const std::vector<std::string> first(parts.begin(),
                                         parts.begin() + static_cast<std::ptrdiff_t>(most));
    return fmt::format("{}; and {} more", fmt::join(first, "; "), parts.size() - most);
}

std::vector<std::string> rows_with(const std::vector<RowGroup>& groups, VerdictKind kind) {
    std::vector<std::string> parts;
    for (const RowGroup& group : groups) {
        for (const FigureRow& row : group.rows) {
            if (row.verdict == kind) {
                parts.push_back(row.deciding.empty()
                                    ? row.label
                                    : fmt::format("{}, {}", row.label, row.deciding));
            }
        }
    }
    return parts;
}

}  // namespace

std::string_view mark(VerdictKind kind) {
    switch (kind) {
        case VerdictKind::pass:
            return "  | o";
        case VerdictKind::conditional_pass:
            return "  |o ";
        case VerdictKind::conditional_fail:
            return " o|  ";
        case VerdictKind::fail:
            return "o |  ";
        case VerdictKind::not_resolvable:
            return " #|# ";
        case VerdictKind::not_comparable:
            return "  :  ";
    }
    return "     ";
}

Emphasis emphasis_of(VerdictKind kind) {
    switch (kind) {
        case VerdictKind::pass:
            return Emphasis::plain;
        case VerdictKind::conditional_pass:
        case VerdictKind::conditional_fail:
            return Emphasis::bold;
        case VerdictKind::fail:
            return Emphasis::inverse;
        case VerdictKind::not_resolvable:
        case VerdictKind::not_comparable:
            return Emphasis::underline;
    }
    return Emphasis::plain;
}

std::string result_cause(const RunDocument& run) {
    const std::vector<RowGroup> groups = figure_rows(run);
    const RowCounts counts = count_rows(groups);
    switch (run.verdict) {
        case RunVerdict::stopped:
            return run.stop_reason.empty() ? std::string{"the run did not come to its end"}
                                           : run.stop_reason;
        case RunVerdict::fail:
            return listed(rows_with(groups, VerdictKind::fail), 3);
        case RunVerdict::inconclusive: {
            std::vector<std::string> open;
            for (const auto& [kind, words] :
                 {std::pair{VerdictKind::not_resolvable, "not resolvable"},
                  std::pair{VerdictKind::conditional_fail, "conditional fail"}}) {
                const auto rows = rows_with(groups, kind);
                if (!rows.empty()) {
                    open.push_back(fmt::format("{}: {}", words, listed(rows, 2)));
                }
            }
            if (const auto events = open_events(run); !events.empty()) {
                open.push_back(fmt::format("{} in the soak that may be the unit’s",
                                           events.size() == 1
                                               ? std::string{"an event"}
                                               : fmt::format("{} events", events.size())));
            }
            return open.empty() ? std::string{"nothing could be scored"}
                                : fmt::format("{}", fmt::join(open, "; "));
        }
        case RunVerdict::pass:
            break;
    }
    std::vector<std::string> parts;
    if (const auto found = counts.by_kind.find(VerdictKind::conditional_pass);
        found != counts.by_kind.end()) {
        parts.push_back(fmt::format("{} conditional", found->second));
    }
    if (counts.assumed > 0) {
        parts.push_back(fmt::format("{} with assumed conditions", counts.assumed));
    }
    if (!run.not_tested.empty()) {
        parts.push_back(fmt::format("{} not tested", run.not_tested.size()));
    }
    if (run.retest && !run.retest->stands.empty()) {
        parts.push_back(fmt::format("retest, {} not measured again", run.retest->stands.size()));
    }
    return fmt::format("{}", fmt::join(parts, ", "));
}

std::string sheet(const RunDocument& run, std::string_view report_path, const Terminal& terminal,
                  const Beside& beside) {
    Terminal kept = terminal;
    kept.width = std::max<std::size_t>(kept.width, 40);
    kept.width = std::min<std::size_t>(kept.width, 80);
    return Sheet{run, kept, beside}.written_with(report_path);
}

}  // namespace afterload::runner
