#include "runner/compare/comparison_text.hpp"
#include "runner/compare/run_comparison.hpp"
#include "runner/compare/written_change.hpp"
#include "tests/runner/sample_run.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <set>
#include <sstream>
#include <string>
#include <utility>
#include <vector>

namespace afterload::runner {
namespace {

using analysis::ChangeKind;
using analysis::Sense;
using testing::ElementsAre;
using testing::HasSubstr;
using testing::IsEmpty;

std::vector<ComparedRun> pair_of(RunDocument before, RunDocument after) {
    std::vector<ComparedRun> runs;
    runs.push_back({"runs/before", std::move(before), {}, {}});
    runs.push_back({"runs/after", std::move(after), {}, {}});
    return runs;
}

std::string text_of(const std::vector<ComparedRun>& runs, const Terminal& terminal) {
    const std::vector<RunComparison> comparisons{
        compared(runs[0].document, runs[1].document, {&runs[0].document, &runs[1].document})};
    return comparison_text(comparisons, runs, {}, terminal);
}

std::vector<std::string> lines_of(const std::string& text) {
    std::istringstream in{text};
    std::vector<std::string> lines;
    for (std::string line; std::getline(in, line);) {
        lines.push_back(line);
    }
    return lines;
}

TEST(Comparison, FindsTheFaultThatWasMendedAndNothingElse) {
    const RunDocument before = received_run();
    const RunDocument after = passing_run();
    const RunComparison found = compared(before, after, {&before, &after});
    std::set<std::string> better;
    for (const ComparedGroup& group : found.groups) {
        for (const ComparedRow& row : group.rows) {
            for (const ComparedFigure* figure : row.figures()) {
                if (figure->difference.sense == Sense::better) {
                    better.insert(figure->after->id);
                }
                EXPECT_NE(figure->difference.sense, Sense::worse) << figure->after->id;
            }
        }
    }
    EXPECT_THAT(
        better,
        ElementsAre("low-level/frequency_response/right", "low-level/thd/THD 0.05 W, 1 kHz/left",
                    "low-level/thd/THD 0.25 W, 1 kHz/left", "low-level/thd/THD 1 W, 1 kHz/left"));
    EXPECT_TRUE(found.same_rig);
    EXPECT_EQ(found.repeats_freedom, 0.0);
    EXPECT_THAT(found.only_after, testing::Contains("THD 40 W, 1 kHz"));
}

TEST(Comparison, OfARunWithItsOwnCopyShowsNoChange) {
    const RunDocument before = sample_run();
    const RunDocument after = sample_run();
    const RunComparison found = compared(before, after, {&before, &after});
    const auto counts = found.counts();
    EXPECT_FALSE(counts.contains(ChangeKind::changed));
    EXPECT_FALSE(counts.contains(ChangeKind::not_comparable));
    EXPECT_THAT(found.only_before, IsEmpty());
    EXPECT_THAT(found.only_after, IsEmpty());
}

TEST(Comparison, SaysWhichConditionIsAnother) {
    RunDocument before = passing_run();
    const RunDocument after = passing_run();
    for (ScoredFigure& entry : before.steps[1].figures) {
        if (entry.figure.kind == FigureKind::channel_separation) {
            entry.figure.conditions.termination = "shorted";
        }
    }
    const RunComparison found = compared(before, after, {&before, &after});
    int unlike = 0;
    for (const ComparedGroup& group : found.groups) {
        for (const ComparedRow& row : group.rows) {
            for (const ComparedFigure* figure : row.figures()) {
                if (figure->difference.kind == ChangeKind::not_comparable) {
                    ++unlike;
                    EXPECT_EQ(figure->difference.reason,
                              "other termination: idle input shorted before, idle input 600 ohm "
                              "after");
                }
            }
        }
    }
    EXPECT_EQ(unlike, 2);
}

TEST(Comparison, NamesWhatTellsTwoUnitsApart) {
    const RunDocument one = sample_run();
    RunDocument other = sample_run();
    EXPECT_EQ(other_unit(one, other), "");
    other.serial.clear();
    EXPECT_EQ(other_unit(one, other), "serial " + one.serial + " in one run, none in the other");
    other.unit.model = "H60";
    EXPECT_EQ(other_unit(one, other), "model " + one.unit.model + " in one run, H60 in the other");
}

TEST(ComparisonText, NoLineIsWiderThanTheTerminalAndNothingMovesTheCursor) {
    RunDocument evil = passing_run();
    evil.unit.maker = std::string(300, 'M');
    evil.sequence_name = "\x1b[2J" + std::string(200, 'q');
    for (StepResult& step : evil.steps) {
        step.group += "\x1b[31m\xff";
        for (ScoredFigure& entry : step.figures) {
            entry.label += std::string(120, 'l') + "\x1b]0;x\x07";
        }
    }
    for (const auto& runs : {pair_of(received_run(), passing_run()), pair_of(evil, evil)}) {
        for (const std::size_t width : {40U, 50U, 72U, 80U, 200U}) {
            const std::string text = text_of(runs, {width, false, true});
            EXPECT_EQ(text.find('\x1b'), std::string::npos);
            for (const std::string& line : lines_of(text)) {
                EXPECT_LE(columns(line), std::min<std::size_t>(width, 80)) << line;
            }
        }
    }
}

TEST(ComparisonText, StylesDoNotChangeTheTextAndAsciiIsAscii) {
    const auto runs = pair_of(received_run(), passing_run());
    const std::string plain = text_of(runs, {80, false, true});
    std::string bare;
    const std::string styled = text_of(runs, {80, true, true});
    for (std::size_t i = 0; i < styled.size(); ++i) {
        if (styled[i] == '\x1b') {
            i = styled.find('m', i);
            continue;
        }
        bare += styled[i];
    }
    EXPECT_EQ(bare, plain);
    for (const char letter : text_of(runs, {80, false, false})) {
        EXPECT_GE(letter, 0);
    }
}

TEST(ComparisonText, PutsTheAnswerLast) {
    const std::string text =
        lines_of(text_of(pair_of(received_run(), passing_run()), {80, false, true})).back();
    EXPECT_THAT(text, HasSubstr("CHANGED"));
    EXPECT_THAT(text, HasSubstr("exit status 0"));
    EXPECT_THAT(lines_of(text_of(pair_of(passing_run(), received_run()), {80, false, true})).back(),
                HasSubstr("exit status 1"));
}

TEST(ComparisonText, WritesABoundOfAChangeSoThatItStaysTrue) {
    RunDocument before = passing_run();
    const RunDocument after = received_run();
    ScoredFigure& entry = before.steps[1].figures[0];
    entry.figure.bound = Bound{*entry.figure.value, Bound::Side::at_most};
    entry.figure.value.reset();
    const RunComparison found = compared(before, after, {&before, &after});
    const ComparedRow& row = found.groups.front().rows.front();
    ASSERT_TRUE(row.left->difference.bound);
    const WrittenComparison numbers = written(row);
    ASSERT_EQ(numbers.left.change.substr(0, 2), ">+");
    EXPECT_LE(std::stod(numbers.left.change.substr(2)), 100.0 * row.left->difference.bound->value);
    EXPECT_EQ(change_word(row), "worse");
}

}  // namespace
}  // namespace afterload::runner
