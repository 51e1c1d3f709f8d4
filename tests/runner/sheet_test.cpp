#include "runner/papers/sheet.hpp"

#include "runner/papers/figure_rows.hpp"
#include "tests/runner/sample_run.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <sstream>

namespace afterload::runner {
namespace {

using analysis::VerdictKind;
using testing::HasSubstr;
using testing::Not;

constexpr const char* path = "runs/2417/report.html";

Terminal terminal(std::size_t width = 80, bool styled = false, bool utf8 = true) {
    return {width, styled, utf8};
}

std::vector<std::string> lines_of(const std::string& text) {
    std::istringstream in{text};
    std::vector<std::string> lines;
    for (std::string line; std::getline(in, line);) {
        lines.push_back(line);
    }
    return lines;
}

std::string line_with(const std::string& text, const std::string& part) {
    for (const std::string& line : lines_of(text)) {
        if (line.find(part) != std::string::npos) {
            return line;
        }
    }
    return {};
}

std::string without_escapes(const std::string& text) {
    std::string out;
    for (std::size_t i = 0; i < text.size(); ++i) {
        if (text[i] == '\x1b') {
            i = text.find('m', i);
            continue;
        }
        out += text[i];
    }
    return out;
}

RunDocument hostile_run() {
    RunDocument run = sample_run();
    run.unit.maker = std::string(10000, 'M');
    run.unit.model = "\x1b[2J\x1b]0;title\x07 \xff\xfe";
    run.serial = std::string(500, '9');
    run.not_tested = {std::string(3000, 'x')};
    run.steps[1].figures[0].label = std::string(300, 'L');
    run.steps[1].figures[0].verdict->kind = VerdictKind::fail;
    run.steps[1].figures[0].verdict->reason =
        "a \x1b[31mred\x1b[0m reason " + std::string(200, 'r');
    run.steps[1].figures[1].figure.value = -1.23456789e9;
    run.steps[1].figures[1].figure.budget.clear();
    conclude(run);
    return run;
}

TEST(Sheet, NoLineIsWiderThanTheTerminal) {
    for (const RunDocument& run : {sample_run(), passing_run(), received_run(), hostile_run()}) {
        for (const std::size_t width : {40U, 50U, 60U, 71U, 72U, 80U, 132U}) {
            for (const bool utf8 : {true, false}) {
                const std::string text = sheet(run, path, terminal(width, false, utf8));
                for (const std::string& line : lines_of(text)) {
                    EXPECT_LE(columns(line), width) << width << ": " << line;
                }
            }
        }
    }
}

TEST(Sheet, FullFormKeepsTheReferenceColumns) {
    const std::string text = sheet(sample_run(), path, terminal());
    EXPECT_EQ(line_with(text, "power, THD"),
              "  power, THD 0.05 %       46.2    45.8     0.7 W  ≥ 40      | o pass");
    EXPECT_EQ(line_with(text, "THD 1 W, 1 kHz  "),
              "  THD 1 W, 1 kHz        0.0108  0.0093  0.0004 %  ≤ 0.05    | o pass");
    EXPECT_EQ(line_with(text, "signal to noise, A"),
              "  signal to noise, A      97.9    98.2     0.4 dB ≥ 98     #|#  not resolvable");
    EXPECT_EQ(line_with(text, "damping factor, A  "),
              "  damping factor, A        118      64       6    ≥ 80    o |   fail");
    EXPECT_EQ(line_with(text, "against direct"),
              "  against direct          0.91    1.07    0.12 dB ≤ 1 h    o|   conditional fail");
    EXPECT_EQ(line_with(text, "maximum output"),
              "  maximum output         17.63   17.51    0.21 V  ≥ 17.9    :   not comparable");
    EXPECT_EQ(line_with(text, "equalisation error"),
              "  equalisation error      0.42    0.38    0.16 dB ≤ 0.5     |o  conditional pass");
    EXPECT_EQ(line_with(text, "THD 2.5 mV"),
              "  THD 2.5 mV, 1 kHz    <0.0021 <0.0021         %  ≤ 0.05    | o pass");
    EXPECT_EQ(line_with(text, "gain, 1 kHz"),
              "  gain, 1 kHz            35.68   35.61    0.12 dB 35.6 ± 1  | o pass");
}

TEST(Sheet, AnswerAndPathComeLast) {
    const auto lines = lines_of(sheet(sample_run(), path, terminal()));
    ASSERT_GE(lines.size(), 2U);
    EXPECT_EQ(lines.back(), path);
    const std::string& result = lines[lines.size() - 2];
    EXPECT_THAT(result, testing::StartsWith(" FAIL  damping factor, A, right"));
    EXPECT_THAT(result, testing::EndsWith("exit status 1"));
    EXPECT_EQ(columns(result), 80U);
}

TEST(Sheet, EveryRowThatIsNotAPlainPassHasAReason) {
    for (const RunDocument& run : {sample_run(), received_run()}) {
        for (const RowGroup& group : figure_rows(run)) {
            for (const FigureRow& row : group.rows) {
                if (row.verdict && *row.verdict != VerdictKind::pass) {
                    EXPECT_FALSE(row.reason.empty()) << row.label;
                }
            }
        }
    }
}

TEST(Sheet, ReasonNamesTheChannelThatDecides) {
    const std::string text = sheet(sample_run(), path, terminal());
    EXPECT_THAT(text, HasSubstr("    right: usually a contact in the path"));
    EXPECT_THAT(text, HasSubstr("    inside by less than the uncertainty"));
}

TEST(Sheet, RowsAreCountedOnceForLeftAndRight) {
    const RunDocument run = sample_run();
    const RowCounts counts = count_rows(figure_rows(run));
    EXPECT_EQ(counts.by_kind.at(VerdictKind::fail), 1);
    EXPECT_EQ(counts.by_kind.at(VerdictKind::not_resolvable), 1);
    EXPECT_EQ(counts.by_kind.at(VerdictKind::not_comparable), 1);
    EXPECT_EQ(counts.not_scored, 1);
    int scored = 0;
    for (const auto& [kind, count] : counts.by_kind) {
        scored += kind == VerdictKind::not_comparable ? 0 : count;
    }
    EXPECT_EQ(counts.scored, scored);
}

TEST(Sheet, StylesDoNotChangeTheText) {
    for (const std::size_t width : {50U, 80U}) {
        const std::string plain = sheet(sample_run(), path, terminal(width));
        const std::string styled = sheet(sample_run(), path, terminal(width, true));
        EXPECT_EQ(without_escapes(styled), plain);
        EXPECT_THAT(plain, Not(HasSubstr("\x1b")));
        EXPECT_THAT(styled, HasSubstr("\x1b[7mfail\x1b[0m"));
        EXPECT_THAT(styled, HasSubstr("\x1b[4mnot resolvable\x1b[0m"));
        EXPECT_THAT(styled, HasSubstr("\x1b[1mconditional pass\x1b[0m"));
        EXPECT_THAT(styled, HasSubstr("\x1b[35mreport.html\x1b[0m"));
    }
}

TEST(Sheet, AsciiFormHoldsAsciiOnly) {
    const std::string text = sheet(sample_run(), path, terminal(80, false, false));
    for (const char c : text) {
        EXPECT_TRUE(c == '\n' || (c >= ' ' && c <= '~')) << static_cast<int>(c);
    }
    EXPECT_THAT(text, HasSubstr("<= 0.05"));
    EXPECT_THAT(text, HasSubstr("8.00 ohm"));
}

TEST(Sheet, NarrowFormPutsValuesBelowTheName) {
    const std::string text = sheet(passing_run(), path, terminal(50));
    EXPECT_THAT(text, HasSubstr("THD 1 W, 1 kHz"));
    EXPECT_THAT(text, HasSubstr("  L 0.0108  R 0.0093  ±0.0004 %"));
    EXPECT_THAT(text, HasSubstr("limit ≤ 0.05 %"));
}

TEST(Sheet, TextFromOutsideCannotMoveTheCursor) {
    const std::string text = sheet(hostile_run(), path, terminal());
    for (const char c : text) {
        EXPECT_TRUE(c == '\n' || static_cast<unsigned char>(c) >= 0x20U);
    }
}

TEST(Sheet, PassingRunSaysWhatItsPassRestsOn) {
    RunDocument run = passing_run();
    run.steps[1].figures[0].verdict->kind = VerdictKind::conditional_pass;
    run.steps[1].figures[0].figure.assumed = {"bandwidth"};
    run.not_tested = {"headphone"};
    conclude(run);
    EXPECT_EQ(result_cause(run), "1 conditional, 1 with assumed conditions, 1 not tested");
    EXPECT_THAT(sheet(run, path, terminal()), HasSubstr("PASS  1 conditional"));
}

TEST(Sheet, SaysWhereTheBenchTimeWent) {
    RunDocument run = passing_run();
    EXPECT_THAT(sheet(run, path, terminal()), Not(HasSubstr("Bench time")));
    run.steps[0].bench_time.settling = Seconds{2.0};
    run.steps[1].bench_time.recording = Seconds{75.0};
    run.steps[1].bench_time.settling = Seconds{0.5};
    EXPECT_THAT(sheet(run, path, terminal()),
                HasSubstr("\nBench time 1 min 18 s: recording 1 min 15 s, settling 2.5 s.\n"));
}

TEST(Sheet, StoppedRunSaysWhy) {
    RunDocument run = passing_run();
    run.state = RunState::stopped;
    run.stop_reason = "DC offset 1.2 V, left: limit 30 mV";
    conclude(run);
    const std::string text = sheet(run, path, terminal());
    EXPECT_THAT(text, HasSubstr(" STOPPED  DC offset 1.2 V, left: limit 30 mV"));
    EXPECT_THAT(text, HasSubstr("exit status 3"));
}

TEST(Sheet, RunWithoutFiguresIsStillASheet) {
    RunDocument run;
    conclude(run);
    const std::string text = sheet(run, "", terminal());
    EXPECT_THAT(text, HasSubstr("No figure was measured."));
    EXPECT_THAT(text, HasSubstr("INCONCLUSIVE"));
}

TEST(Sheet, HasTheEarlierReadingsBelowItsOwnAndSaysWhatReallyChanged) {
    const RunDocument before = received_run();
    Beside beside;
    beside.before = &before;
    for (const std::size_t width : {80U, 50U}) {
        const std::string text = sheet(passing_run(), path, terminal(width), beside);
        const auto lines = lines_of(text);
        const auto row = std::find_if(lines.begin(), lines.end(), [](const std::string& line) {
            return line.find("THD 0.05 W, 1 kHz") != std::string::npos;
        });
        ASSERT_NE(row, lines.end());
        const std::string was = *(row + (width == 80U ? 1 : 2));
        EXPECT_THAT(was, HasSubstr("before"));
        EXPECT_THAT(was, HasSubstr("0.62"));
        EXPECT_THAT(was, HasSubstr("better"));
        for (const std::string& line : lines) {
            EXPECT_LE(columns(line), width) << line;
        }
    }
    EXPECT_THAT(sheet(passing_run(), path, terminal()), Not(HasSubstr("\n    before ")));
}

TEST(Sheet, HasWhatPersonsSaidBesideTheVerdictAndNotInItsPlace) {
    const RunDocument run = sample_run();
    const ScoredFigure* failed = nullptr;
    for (const StepResult& step : run.steps) {
        for (const ScoredFigure& entry : step.figures) {
            if (entry.verdict && entry.verdict->kind == VerdictKind::fail) {
                failed = &entry;
            }
        }
    }
    ASSERT_NE(failed, nullptr);
    Beside beside;
    beside.remarks = {{Remark::Kind::accept, "2026-03-12T16:05:00.000Z", "ben", failed->id,
                       "the customer \x1b[2J knows"},
                      {Remark::Kind::note, "2026-03-12T16:06:00.000Z", "anna", "", "covers off"}};
    const std::string text = sheet(run, path, terminal(), beside);
    EXPECT_THAT(text, HasSubstr("accepted by ben, 2026-03-12 16:05 UTC: the customer"));
    EXPECT_THAT(text, HasSubstr("anna, 2026-03-12 16:06 UTC: covers off"));
    EXPECT_THAT(text, HasSubstr("fail"));
    EXPECT_THAT(text, HasSubstr("exit status 1"));
    EXPECT_EQ(text.find('\x1b'), std::string::npos);
}

TEST(FigureRows, ValueIsNeverWrittenOntoOrAcrossItsLimit) {
    RunDocument run = passing_run();
    StepResult step;
    step.name = "edge";
    ScoredFigure entry = run.steps[1].figures[0];
    entry.figure.value = 0.000499;
    entry.figure.budget = {{"x", BudgetLine::Kind::noise, 2e-5}};
    step.figures = {entry};
    run.steps = {step};
    const auto groups = figure_rows(run);
    EXPECT_EQ(written(groups[0].rows[0]).left, "0.0499");
}

TEST(FigureRows, MarginIsInDecibelsInsidePositive) {
    Limit limit;
    limit.at_most = 0.0005;
    EXPECT_NEAR(*margin_db(FigureKind::thd, 0.000108, limit), 13.3, 0.05);
    Limit least;
    least.at_least = 40.0;
    EXPECT_NEAR(*margin_db(FigureKind::output_power, 45.8, least), 0.59, 0.005);
    least.at_least = 80.0;
    EXPECT_NEAR(*margin_db(FigureKind::damping_factor, 64.0, least), -1.94, 0.005);
    const Limit two_sided{-1.0, 1.0, 0.0};
    EXPECT_NEAR(*margin_db(FigureKind::frequency_response, -0.31, two_sided), 0.69, 1e-9);
    const Limit offset{-0.03, 0.03, 0.0};
    EXPECT_NEAR(*margin_db(FigureKind::dc_offset, -0.0091, offset), 10.4, 0.05);
    EXPECT_EQ(margin_db(FigureKind::temperature, 40.0, limit), std::nullopt);
}

TEST(FigureRows, BoundsAreRoundedSoThatTheyStayTrue) {
    RunDocument run = sample_run();
    ScoredFigure& thd = run.steps[5].figures[4];
    ASSERT_TRUE(thd.figure.bound);
    thd.figure.bound->value = 2.112e-5;
    run.steps[5].figures[6].figure.bound->value = 71.9;
    const auto groups = figure_rows(run);
    const auto& rows = groups.back().rows;
    EXPECT_EQ(written(rows[2]).left, "<0.0022");
    EXPECT_EQ(written(rows[3]).right, ">71");
}

TEST(FigureRows, WorseOfTwoChannelsGivesTheWord) {
    const auto groups = figure_rows(sample_run());
    for (const RowGroup& group : groups) {
        for (const FigureRow& row : group.rows) {
            if (row.label == "damping factor, A") {
                EXPECT_EQ(row.verdict, VerdictKind::fail);
                EXPECT_EQ(row.deciding, "right");
            }
            if (row.label == "against direct") {
                EXPECT_EQ(row.verdict, VerdictKind::conditional_fail);
            }
        }
    }
}

}  // namespace
}  // namespace afterload::runner
