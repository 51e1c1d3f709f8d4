#include "runner/compare/comparison_text.hpp"

#include "runner/compare/written_change.hpp"
#include "runner/papers/number_text.hpp"
#include "runner/papers/time_text.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <utility>

namespace afterload::runner {

namespace {

using analysis::ChangeKind;
using analysis::Difference;
using analysis::Sense;

constexpr std::size_t side_column = 24;
constexpr std::size_t before_end = 34;
constexpr std::size_t after_end = 43;
constexpr std::size_t change_end = 52;
constexpr std::size_t uncertainty_end = 60;
constexpr std::size_t unit_start = 61;
constexpr std::size_t word_start = 65;
constexpr std::size_t narrowest_full = 80;
constexpr std::size_t longest_outside_text = 40;
constexpr std::size_t longest_reason = 400;

Emphasis emphasis_of(const Difference& difference) {
    switch (difference.kind) {
        case ChangeKind::changed:
            return difference.sense == Sense::worse ? Emphasis::inverse : Emphasis::bold;
        case ChangeKind::conditional:
            return Emphasis::bold;
        case ChangeKind::not_resolvable:
        case ChangeKind::not_comparable:
            return Emphasis::underline;
        case ChangeKind::none:
            break;
    }
    return Emphasis::faint;
}

class ComparisonSheet {
public:
    ComparisonSheet(const std::vector<RunComparison>& comparisons,
                    const std::vector<ComparedRun>& runs,
                    const std::vector<std::string>& unreadable, const Terminal& terminal)
        : comparisons_{comparisons}, runs_{runs}, unreadable_{unreadable}, terminal_{terminal} {}

    std::string text() {
        head();
        for (const RunComparison& comparison : comparisons_) {
            out_ += '\n';
            table(comparison);
        }
        out_ += '\n';
        wrong();
        result();
        return std::move(out_);
    }

private:
    [[nodiscard]] TextLine line() const { return TextLine{terminal_}; }
    void add(const TextLine& line) { out_ += line.text(); }
    [[nodiscard]] bool narrow() const { return terminal_.width < narrowest_full; }

    [[nodiscard]] std::size_t place_of(const RunDocument* run) const {
        for (std::size_t i = 0; i < runs_.size(); ++i) {
            if (&runs_[i].document == run) {
                return i;
            }
        }
        return 0;
    }

    [[nodiscard]] std::string name_of(std::size_t run) const {
        if (runs_.size() > 2) {
            return std::to_string(run + 1);
        }
        return run == 0 ? "before" : "after";
    }

    void head() {
        const RunDocument& first = runs_.front().document;
        TextLine title = line();
        const std::string serial = first.serial.empty()
                                       ? std::string{"  no serial"}
                                       : "  serial " + cut(first.serial, 24, terminal_);
        const std::size_t left = terminal_.width - std::min(terminal_.width, columns(serial));
        title.put(cut(fmt::format("{} {}", first.unit.maker, first.unit.model),
                      std::min<std::size_t>(longest_outside_text, left), terminal_),
                  Emphasis::bold);
        title.put(serial);
        const std::string count = fmt::format("{} runs compared", runs_.size());
        if (title.width() + count.size() + 1 <= terminal_.width) {
            title.ending_at(terminal_.width, count);
        }
        add(title);
        for (std::size_t i = 0; i < runs_.size(); ++i) {
            const RunDocument& run = runs_[i].document;
            std::string stage{name(run.stage)};
            std::replace(stage.begin(), stage.end(), '_', ' ');
            std::vector<std::string> parts{stage,
                                           cut(run.sequence_name, longest_outside_text, terminal_),
                                           "bench " + cut(run.bench.name, 24, terminal_)};
            if (!run.started.empty()) {
                parts.push_back(stamp_text(cut(run.started, 32, terminal_)));
            }
            parts.emplace_back(run.state == RunState::done ? name(run.verdict) : name(run.state));
            out_ += wrapped(fmt::format("{:<7} {}", name_of(i), fmt::join(parts, ", ")), 0, 8,
                            terminal_, Emphasis::faint);
        }
    }

    void table(const RunComparison& comparison) {
        const std::string was = name_of(place_of(comparison.before));
        const std::string is = name_of(place_of(comparison.after));
        if (narrow()) {
            out_ +=
                wrapped(fmt::format("From {} to {}", was, is), 0, 0, terminal_, Emphasis::faint);
        } else {
            add(line()
                    .ending_at(before_end, was, Emphasis::faint)
                    .ending_at(after_end, is, Emphasis::faint)
                    .ending_at(change_end, "change", Emphasis::faint)
                    .ending_at(uncertainty_end, "±U, 95 %", Emphasis::faint)
                    .to(word_start)
                    .put("is it real", Emphasis::faint));
        }
        for (const ComparedGroup& group : comparison.groups) {
            heading(group);
            for (const ComparedRow& row : group.rows) {
                narrow() ? narrow_row(row) : full_row(row);
                below(row);
            }
        }
        if (comparison.groups.empty()) {
            out_ += wrapped("No figure was measured in both.", 0, 0, terminal_);
        }
        notes(comparison, was, is);
    }

    void heading(const ComparedGroup& group) {
        TextLine first = line();
        first.put(
            cut(group.heading.empty() ? "Figures" : group.heading, longest_outside_text, terminal_),
            Emphasis::bold);
        const std::string conditions = for_terminal(group.conditions, terminal_);
        if (first.width() + 2 + columns(conditions) <= terminal_.width) {
            if (!conditions.empty()) {
                first.to(first.width() + 2).put(conditions, Emphasis::faint);
            }
            add(first);
        } else {
            add(first);
            out_ += wrapped(conditions, 2, 2, terminal_, Emphasis::faint);
        }
    }

    void full_row(const ComparedRow& row) {
        const WrittenComparison numbers = written(row);
        const std::string label = cut(row.label, 2 * terminal_.width, terminal_);
        bool with_label = columns(label) + 3 <= side_column;
        if (!with_label) {
            out_ += wrapped(label, 2, 4, terminal_);
        }
        for (const bool left : {true, false}) {
            const auto& figure = left ? row.left : row.right;
            if (!figure) {
                continue;
            }
            const WrittenChange& change = left ? numbers.left : numbers.right;
            TextLine text = line();
            text.to(2);
            if (with_label) {
                text.put(label);
                with_label = false;
            }
            if (!row.single) {
                text.to(side_column).put(left ? "L" : "R", Emphasis::faint);
            }
            text.ending_at(before_end, change.before)
                .ending_at(after_end, change.after)
                .ending_at(change_end, change.change)
                .ending_at(uncertainty_end, change.expanded);
            if (!numbers.unit.empty()) {
                text.to(unit_start).put(numbers.unit);
            }
            text.to(word_start)
                .put(change_word(figure->difference), emphasis_of(figure->difference));
            add(text);
        }
    }

    void narrow_row(const ComparedRow& row) {
        const WrittenComparison numbers = written(row);
        out_ += wrapped(cut(row.label, 4 * terminal_.width, terminal_), 0, 2, terminal_);
        for (const bool left : {true, false}) {
            const auto& figure = left ? row.left : row.right;
            if (!figure) {
                continue;
            }
            const WrittenChange& change = left ? numbers.left : numbers.right;
            const std::string unit = numbers.unit.empty() ? "" : " " + numbers.unit;
            std::string text = fmt::format("{}{} to {}{}",
                                           row.single ? ""
                                           : left     ? "L "
                                                      : "R ",
                                           change.before, change.after, unit);
            if (!change.change.empty()) {
                text += fmt::format(", {}", change.change);
                text += change.expanded.empty() ? "" : fmt::format(" ±{}", change.expanded);
            }
            const std::string word = change_word(figure->difference);
            TextLine first = line();
            first.to(2).put(text);
            if (first.width() + 1 + word.size() <= terminal_.width) {
                first.to(terminal_.width - word.size()).put(word, emphasis_of(figure->difference));
                add(first);
                continue;
            }
            out_ += wrapped(text, 2, 4, terminal_);
            add(line()
                    .to(terminal_.width - word.size())
                    .put(word, emphasis_of(figure->difference)));
        }
    }

    [[nodiscard]] bool damaged(const ComparedFigure& figure, bool before,
                               const RunComparison& comparison) const {
        const ComparedRun& run = runs_[place_of(before ? comparison.before : comparison.after)];
        const std::size_t step = before ? figure.step_before : figure.step_after;
        return std::find(run.damaged_steps.begin(), run.damaged_steps.end(), step) !=
               run.damaged_steps.end();
    }

    void below(const ComparedRow& row) {
        std::vector<std::string> reasons;
        for (const ComparedFigure* figure : row.figures()) {
            std::string reason = figure->difference.reason;
            if (figure->difference.worst_at) {
                const std::string at =
                    quantity_text(figure->difference.worst_at->in<Hertz>(), "Hz", 3);
                reason = reason.empty() ? fmt::format("most at {}", at)
                                        : fmt::format("{}; most at {}", reason, at);
            }
            if (reason.empty()) {
                continue;
            }
            if (!row.single && row.left && row.right) {
                reason = fmt::format("{}: {}", figure == &*row.left ? "left" : "right", reason);
            }
            reasons.push_back(std::move(reason));
        }
        // Both channels for one reason: said once.
        if (reasons.size() == 2 && row.left->difference.reason == row.right->difference.reason &&
            !row.left->difference.reason.empty() && !row.left->difference.worst_at) {
            reasons = {row.left->difference.reason};
        }
        const std::size_t indent = narrow() ? 2 : 4;
        for (const std::string& reason : reasons) {
            out_ += wrapped(cut(reason, longest_reason, terminal_), indent, indent, terminal_,
                            Emphasis::faint);
        }
    }

    void notes(const RunComparison& comparison, const std::string& was, const std::string& is) {
        const auto alone = [&](const std::vector<std::string>& what, const std::string& where) {
            if (what.empty()) {
                return;
            }
            std::vector<std::string> parts;
            for (const std::string& part : what) {
                parts.push_back(cut(part, 60, terminal_));
            }
            out_ += wrapped(fmt::format("Only {}: {}.", where, fmt::join(parts, "; ")), 0, 0,
                            terminal_);
        };
        alone(comparison.only_before, was);
        alone(comparison.only_after, is);
        std::vector<std::string> uncertain;
        for (const ComparedGroup& group : comparison.groups) {
            for (const ComparedRow& row : group.rows) {
                const auto figures = row.figures();
                if (std::any_of(figures.begin(), figures.end(), [&](const ComparedFigure* figure) {
                        return damaged(*figure, true, comparison) ||
                               damaged(*figure, false, comparison);
                    })) {
                    uncertain.push_back(cut(row.label, 60, terminal_));
                }
            }
        }
        if (!uncertain.empty()) {
            out_ += wrapped(fmt::format("Nothing proves any more: {}: the records behind them are "
                                        "not whole.",
                                        fmt::join(uncertain, "; ")),
                            0, 0, terminal_);
        }
        out_ +=
            wrapped(comparison.same_rig ? "One rig: what its calibration does to both drops out."
                                        : "Two rigs: each counts with all of its own uncertainty.",
                    0, 0, terminal_, Emphasis::faint);
        out_ += wrapped(
            comparison.repeats_freedom > 0.0
                ? fmt::format("Setting up again: from this unit's own repeats, {} degrees of "
                              "freedom.",
                              plain(comparison.repeats_freedom))
                : std::string{"Setting up again: common practice; three runs of one stage give "
                              "the shop's own."},
            0, 0, terminal_, Emphasis::faint);
        counts(comparison);
    }

    void counts(const RunComparison& comparison) {
        const auto by_kind = comparison.counts();
        const auto of = [&](ChangeKind kind) {
            const auto found = by_kind.find(kind);
            return found == by_kind.end() ? 0 : found->second;
        };
        int all = 0;
        for (const auto& [kind, count] : by_kind) {
            all += count;
        }
        const int better = comparison.with(Sense::better);
        const int worse = comparison.with(Sense::worse);
        std::vector<std::string> parts;
        for (const auto& [count, word] :
             {std::pair{worse, "worse"}, std::pair{better, "better"},
              std::pair{of(ChangeKind::changed) - better - worse, "changed"},
              std::pair{of(ChangeKind::conditional), "perhaps changed"},
              std::pair{of(ChangeKind::none), "no change"},
              std::pair{of(ChangeKind::not_resolvable), "not resolvable"},
              std::pair{of(ChangeKind::not_comparable), "not comparable"}}) {
            if (count > 0) {
                parts.push_back(fmt::format("{} {}", count, word));
            }
        }
        if (all > 0) {
            out_ += wrapped(fmt::format("{} figures compared: {}.", all, fmt::join(parts, ", ")), 0,
                            0, terminal_);
        }
    }

    void wrong() {
        for (std::size_t i = 0; i < runs_.size(); ++i) {
            for (const std::string& fault : runs_[i].wrong) {
                out_ += wrapped(fmt::format("{}: {}", runs_[i].path, fault), 0, 2, terminal_);
            }
        }
        for (const std::string& folder : unreadable_) {
            out_ += wrapped(folder, 0, 2, terminal_);
        }
    }

    void result() {
        const int status = exit_status(comparisons_, runs_, unreadable_);
        int worse = 0;
        int changed = 0;
        int told = 0;
        for (const RunComparison& comparison : comparisons_) {
            worse += comparison.with(Sense::worse);
            for (const auto& [kind, count] : comparison.counts()) {
                changed += kind == ChangeKind::changed ? count : 0;
                told += kind == ChangeKind::changed || kind == ChangeKind::none ? count : 0;
            }
        }
        const std::string word = worse > 0     ? " WORSE "
                                 : changed > 0 ? "CHANGED"
                                 : told > 0    ? "NO CHANGE"
                                               : "NOTHING TO COMPARE";
        add(line()
                .put(word, worse > 0   ? Emphasis::inverse
                           : told == 0 ? Emphasis::underline
                                       : Emphasis::bold)
                .ending_at(terminal_.width, fmt::format("exit status {}", status)));
    }

    const std::vector<RunComparison>& comparisons_;
    const std::vector<ComparedRun>& runs_;
    const std::vector<std::string>& unreadable_;
    const Terminal& terminal_;
    std::string out_;
};

}  // namespace

std::string comparison_text(const std::vector<RunComparison>& comparisons,
                            const std::vector<ComparedRun>& runs,
                            const std::vector<std::string>& unreadable, const Terminal& terminal) {
    Terminal kept = terminal;
    kept.width = std::clamp<std::size_t>(kept.width, 40, 80);
    return ComparisonSheet{comparisons, runs, unreadable, kept}.text();
}

}  // namespace afterload::runner
