// RFC 4180: CRLF after every record, quotes doubled, cells with a comma, a quote or a line break
// quoted.
#include "runner/papers/figures_csv.hpp"

#include "tests/runner/sample_run.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace afterload::runner {
namespace {

using testing::HasSubstr;

/// A reader of RFC 4180, by the letter of its grammar.
std::vector<std::vector<std::string>> parsed(const std::string& text) {
    std::vector<std::vector<std::string>> rows;
    std::vector<std::string> row;
    std::string cell;
    bool quoted = false;
    for (std::size_t i = 0; i < text.size(); ++i) {
        const char c = text[i];
        if (quoted) {
            if (c == '"' && i + 1 < text.size() && text[i + 1] == '"') {
                cell += '"';
                ++i;
            } else if (c == '"') {
                quoted = false;
            } else {
                cell += c;
            }
        } else if (c == '"') {
            EXPECT_TRUE(cell.empty());
            quoted = true;
        } else if (c == ',') {
            row.push_back(std::move(cell));
            cell.clear();
        } else if (c == '\r') {
            EXPECT_LT(i + 1, text.size());
            EXPECT_EQ(text[i + 1], '\n');
            ++i;
            row.push_back(std::move(cell));
            cell.clear();
            rows.push_back(std::move(row));
            row.clear();
        } else {
            EXPECT_NE(c, '\n');
            cell += c;
        }
    }
    EXPECT_TRUE(cell.empty() && row.empty()) << "the last record has no line end";
    return rows;
}

std::size_t column(const std::vector<std::vector<std::string>>& rows, const std::string& name) {
    for (std::size_t i = 0; i < rows[0].size(); ++i) {
        if (rows[0][i] == name) {
            return i;
        }
    }
    ADD_FAILURE() << name;
    return 0;
}

TEST(FiguresCsv, HasOneRowAFigureAndOneHead) {
    const RunDocument run = sample_run();
    std::size_t figures = 0;
    for (const StepResult& step : run.steps) {
        figures += step.figures.size();
    }
    const auto rows = parsed(figures_csv(run));
    ASSERT_EQ(rows.size(), figures + 1);
    for (const auto& row : rows) {
        EXPECT_EQ(row.size(), rows[0].size());
    }
}

TEST(FiguresCsv, NumbersAreInSiUnitsAndReadBack) {
    const RunDocument run = sample_run();
    const auto rows = parsed(figures_csv(run));
    const std::size_t value = column(rows, "value_si");
    const std::size_t unit = column(rows, "unit");
    EXPECT_EQ(rows[1][value], "0.000126");
    EXPECT_EQ(rows[1][unit], "1");
    std::size_t r = 1;
    for (const StepResult& step : run.steps) {
        for (const ScoredFigure& entry : step.figures) {
            if (entry.figure.value) {
                EXPECT_EQ(std::stod(rows[r][value]), *entry.figure.value);
            } else {
                EXPECT_EQ(rows[r][value], "");
            }
            ++r;
        }
    }
}

TEST(FiguresCsv, NegativeNumbersStayNumbers) {
    RunDocument run = sample_run();
    run.steps[1].figures[0].figure.value = -0.5;
    const auto rows = parsed(figures_csv(run));
    EXPECT_EQ(rows[1][column(rows, "value_si")], "-0.5");
}

TEST(FiguresCsv, TextThatLooksLikeAFormulaIsDefused) {
    for (const char* evil : {"=1+1", "+1", "-1", "@SUM(A1)", "\tx", "\rx"}) {
        EXPECT_EQ(csv_text(evil).find('\''), csv_text(evil).front() == '"' ? 1U : 0U) << evil;
    }
    EXPECT_EQ(csv_text("plain"), "plain");
    EXPECT_EQ(csv_text("a-b"), "a-b");
    RunDocument run = sample_run();
    run.steps[1].figures[0].label = "=cmd|'/c calc'!A1";
    run.steps[1].figures[0].verdict->reason = "@x, \"quoted\"\r\nsecond line";
    const auto rows = parsed(figures_csv(run));
    EXPECT_EQ(rows[1][column(rows, "label")], "'=cmd|'/c calc'!A1");
    EXPECT_EQ(rows[1][column(rows, "reason")], "'@x, \"quoted\"\r\nsecond line");
}

TEST(FiguresCsv, BoundsStandApartFromValues) {
    const auto rows = parsed(figures_csv(sample_run()));
    const std::size_t is = column(rows, "bound_is");
    int at_most = 0;
    int at_least = 0;
    for (const auto& row : rows) {
        at_most += row[is] == "at_most" ? 1 : 0;
        at_least += row[is] == "at_least" ? 1 : 0;
    }
    EXPECT_EQ(at_most, 2);
    EXPECT_EQ(at_least, 1);
}

TEST(FiguresCsv, RunWithoutFiguresIsAHeadAlone) {
    EXPECT_EQ(parsed(figures_csv(RunDocument{})).size(), 1U);
}

}  // namespace
}  // namespace afterload::runner
