#include "runner/papers/report.hpp"

#include "runner/papers/html_text.hpp"
#include "runner/papers/plot_canvas.hpp"
#include "runner/papers/report_plots.hpp"
#include "runner/papers/report_scale.hpp"
#include "runner/papers/report_statement.hpp"
#include "tests/runner/sample_run.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace afterload::runner {
namespace {

using analysis::VerdictKind;
using testing::HasSubstr;
using testing::Not;

std::size_t times(const std::string& text, const std::string& part) {
    std::size_t count = 0;
    for (std::size_t at = text.find(part); at != std::string::npos; at = text.find(part, at + 1)) {
        ++count;
    }
    return count;
}

/// Checks that tags nest; elements of HTML without an end tag are known by name.
void expect_well_formed(const std::string& html) {
    std::vector<std::string> open;
    for (std::size_t at = html.find('<'); at != std::string::npos; at = html.find('<', at)) {
        const std::size_t end = html.find('>', at);
        ASSERT_NE(end, std::string::npos);
        const std::string tag = html.substr(at + 1, end - at - 1);
        at = end;
        if (tag.front() == '!' || tag.back() == '/') {
            continue;
        }
        const std::string name = tag.substr(0, tag.find(' '));
        if (name == "meta" || name == "br") {
            continue;
        }
        if (name.front() == '/') {
            ASSERT_FALSE(open.empty());
            ASSERT_EQ("/" + open.back(), name);
            open.pop_back();
            continue;
        }
        open.push_back(name);
    }
    EXPECT_TRUE(open.empty());
}

RunDocument hostile_run() {
    const std::string evil = "\"><script>alert(1)</script><img src=x onerror=y> \xff\x1b & '";
    RunDocument run = sample_run();
    run.unit.maker = evil;
    run.unit.model = evil;
    run.serial = evil + std::string(10000, 'S');
    run.job = evil;
    run.id = "}</style><script>x</script>";
    run.notes = {evil};
    run.not_tested = {evil};
    run.stop_reason = evil;
    run.decision_rule = evil;
    run.bench.name = evil;
    run.sequence_title = evil;
    run.files[0].path = evil;
    run.parameters[evil] = evil;
    for (StepResult& step : run.steps) {
        step.group += evil;
        step.group_conditions = evil;
        for (ScoredFigure& entry : step.figures) {
            entry.label += evil;
            if (entry.verdict && entry.verdict->kind != VerdictKind::pass) {
                entry.verdict->reason = evil;
            }
            if (entry.rating) {
                entry.rating->source = evil;
            }
        }
    }
    run.spectra[0].title = evil;
    return run;
}

TEST(Report, IsWellFormed) {
    RunDocument empty;
    conclude(empty);
    for (const RunDocument& run :
         {sample_run(), passing_run(), received_run(), hostile_run(), empty}) {
        expect_well_formed(report_html(run));
    }
}

TEST(Report, HoldsNoScriptAndAsksForNothingFromOutside) {
    const std::string html = report_html(sample_run());
    EXPECT_THAT(html, HasSubstr("default-src &#39;none&#39;; style-src &#39;unsafe-inline&#39;"));
    for (const char* part : {"<script", "http://", "https://", "javascript:", "<img", "<link",
                             "<iframe", "@import", "url(h", "onload"}) {
        EXPECT_THAT(html, Not(HasSubstr(part))) << part;
    }
}

TEST(Report, TextFromOutsideIsEscapedEverywhere) {
    const std::string html = report_html(hostile_run());
    EXPECT_THAT(html, Not(HasSubstr("<script")));
    EXPECT_THAT(html, Not(HasSubstr("<img")));
    EXPECT_THAT(html, HasSubstr("&lt;script&gt;"));
    EXPECT_EQ(times(html, "</style>"), 1U);
    for (const char c : html) {
        EXPECT_TRUE(c == '\n' || static_cast<unsigned char>(c) >= 0x20U);
    }
}

TEST(Report, LongNamesAreCut) {
    const std::string html = report_html(hostile_run());
    EXPECT_THAT(html, Not(HasSubstr(std::string(200, 'S'))));
    EXPECT_LT(html.size(), 400000U);
}

TEST(Report, StaysUnderItsBudgetOfFourHundredKilobytes) {
    EXPECT_LT(report_html(sample_run()).size(), 400000U);
}

TEST(Report, HeadlineIsTheVerdictAndItsCause) {
    EXPECT_EQ(headline(sample_run()), "Fails on one figure: damping factor, A, right");
    EXPECT_THAT(headline(passing_run()), testing::StartsWith("Passes: ten of ten figures"));
    RunDocument stopped = passing_run();
    stopped.state = RunState::stopped;
    stopped.stop_reason = "lost the card";
    conclude(stopped);
    EXPECT_EQ(headline(stopped), "Stopped: lost the card");
}

TEST(Report, StatementSaysRepairedOnlyWhenNothingFails) {
    EXPECT_EQ(statement(passing_run()), "Repaired. All ten figures below meet their ratings.");
    EXPECT_THAT(statement(sample_run()),
                testing::StartsWith("Not finished: one of the 19 figures below does not meet its "
                                    "rating."));
    EXPECT_THAT(statement(received_run()), testing::StartsWith("As it came in: "));
    RunDocument open = passing_run();
    open.steps[1].figures[0].verdict->kind = VerdictKind::not_resolvable;
    conclude(open);
    EXPECT_EQ(statement(open),
              "Repaired. Nine of the ten figures below meet their ratings. One, the distortion, is "
              "too close to call with our equipment.");
    for (const RunDocument& run : {sample_run(), received_run()}) {
        EXPECT_THAT(statement(run), Not(HasSubstr("Repaired")));
    }
}

TEST(Report, EveryVerdictStandsAsAWord) {
    const std::string html = report_html(sample_run());
    for (const char* word : {">pass<", ">conditional pass<", ">conditional fail<", ">fail<",
                             ">not resolvable<", ">not comparable<", ">not scored<"}) {
        EXPECT_THAT(html, HasSubstr(word)) << word;
    }
}

TEST(Report, SimulatedBenchIsSaidOnTop) {
    const std::string html = report_html(sample_run());
    EXPECT_LT(html.find("Simulated bench: no real unit was measured."), html.find("<table"));
    RunDocument real = sample_run();
    real.bench.simulated.reset();
    EXPECT_THAT(report_html(real), Not(HasSubstr("Simulated bench")));
}

TEST(Report, SaysRuleLimitsWhatWasNotTestedAndFiles) {
    const RunDocument run = sample_run();
    const std::string html = report_html(run);
    for (const std::string& part : run.not_tested) {
        const std::string first = part.substr(0, part.find(' '));
        EXPECT_THAT(html, HasSubstr(first));
    }
    EXPECT_THAT(html, HasSubstr("Decision rule."));
    EXPECT_THAT(html, HasSubstr("house rule; the maker states none"));
    EXPECT_THAT(html, HasSubstr(run.files[0].sha256));
    EXPECT_THAT(html, HasSubstr("records/002-1.flac"));
    EXPECT_THAT(html, HasSubstr("Assumed, the sheet does not state it"));
}

TEST(Report, PlotsHaveTitleDescriptionAndNumbers) {
    const std::string html = report_html(sample_run());
    const std::size_t plots = times(html, "<svg class=\"plot ");
    EXPECT_GE(plots, 6U);
    EXPECT_EQ(times(html, "<desc "), plots);
    EXPECT_EQ(times(html, "<details>"), times(html, "<figure "));
}

TEST(Report, IdsStandOnce) {
    const std::string html = report_html(sample_run());
    for (std::size_t at = html.find(" id=\""); at != std::string::npos;
         at = html.find(" id=\"", at + 1)) {
        const std::string id = html.substr(at, html.find('"', at + 5) - at + 1);
        EXPECT_EQ(times(html, id), 1U) << id;
    }
}

TEST(Report, WhatWasNotMeasuredHasNoEmptyFrame) {
    RunDocument run = passing_run();
    run.steps.erase(run.steps.begin() + 1);
    EXPECT_TRUE(report_plots(run).empty());
    EXPECT_THAT(report_html(run), Not(HasSubstr("What was seen")));
}

TEST(Report, CaptionSaysWhatIsSeen) {
    const auto received = report_plots(received_run());
    ASSERT_GE(received.size(), 3U);
    EXPECT_THAT(received[0].caption, HasSubstr("The left channel lies above its limit"));
    EXPECT_THAT(received[0].caption, HasSubstr("distorts more the quieter it plays"));
    EXPECT_THAT(received[2].caption, HasSubstr("The right channel leaves the rated mask"));
    const auto passing = report_plots(passing_run());
    EXPECT_THAT(passing[0].caption, HasSubstr("Both channels stay inside the rated limit"));
    EXPECT_THAT(passing[2].caption, HasSubstr("inside the rated mask at every frequency"));
}

Beside received_before(const RunDocument& before) {
    Beside beside;
    beside.before = &before;
    return beside;
}

TEST(Report, PutsBeforeBesideAfterOnItsFirstPage) {
    const RunDocument before = received_run();
    const RunDocument run = passing_run();
    const std::string html = report_html(run, received_before(before));
    expect_well_formed(html);
    const std::size_t first = html.find("<table class=\"first\"");
    ASSERT_NE(first, std::string::npos);
    EXPECT_LT(first, html.find("<table class=\"sheet\""));
    const std::string page = html.substr(first, html.find("</table>", first) - first);
    for (const char* part : {"as received", "repaired", "meets", "better", "0.62\u202f%",
                             "0.013\u202f%", "at most 0.05\u202f%", "#ring", "#disc"}) {
        EXPECT_THAT(page, HasSubstr(part));
    }
    EXPECT_THAT(report_html(run), Not(HasSubstr("<table class=\"first\"")));
}

TEST(Report, SaysNotTestedOfWhatTheEarlierRunDidNotMeasure) {
    RunDocument before = received_run();
    const RunDocument run = passing_run();
    std::erase_if(before.steps[1].figures, [](const ScoredFigure& entry) {
        return entry.figure.kind == FigureKind::channel_separation;
    });
    EXPECT_THAT(report_html(run, received_before(before)), HasSubstr("<em>not tested</em>"));
    for (StepResult& step : before.steps) {
        for (ScoredFigure& entry : step.figures) {
            entry.figure.conditions.load = Ohms{4.0};
        }
    }
    EXPECT_THAT(report_html(run, received_before(before)), HasSubstr("<em>other conditions</em>"));
}

TEST(Report, DrawsTheEarlierRunInGreyUnderThisOne) {
    const RunDocument before = received_run();
    const RunDocument run = passing_run();
    const std::string html = report_html(run, received_before(before));
    EXPECT_THAT(html, HasSubstr("curve right before"));
    EXPECT_THAT(html, HasSubstr("left before"));
    // Under: what is drawn later lies above.
    EXPECT_LT(html.find("curve left before"), html.find("\"curve left\""));
    EXPECT_THAT(html, HasSubstr("Then: the right channel leaves the rated mask"));
    EXPECT_LT(html.size(), 400000U);
}

TEST(Report, TextOfTheEarlierRunAndOfPersonsIsEscaped) {
    const RunDocument before = hostile_run();
    RunDocument run = sample_run();
    Beside beside = received_before(before);
    beside.remarks = {{Remark::Kind::note, "\"><b>", "<i>", "", "<script>alert(1)</script>"},
                      {Remark::Kind::accept, "", "", run.steps[1].figures[0].id, "<script>"}};
    const std::string html = report_html(run, beside);
    expect_well_formed(html);
    EXPECT_THAT(html, Not(HasSubstr("<script")));
    EXPECT_THAT(html, HasSubstr("&lt;script&gt;alert(1)"));
    EXPECT_THAT(html, HasSubstr("ccepted by somebody"));
}

TEST(MarginScale, LimitStandsInOneColumnAndOrderIsKept) {
    EXPECT_NEAR(margin_place(0.0), 0.4255, 0.0005);
    double before = -1.0;
    for (double margin = -9.9; margin <= 29.9; margin += 0.1) {
        EXPECT_GT(margin_place(margin), before);
        before = margin_place(margin);
    }
    EXPECT_EQ(margin_place(-1e9), 0.0);
    EXPECT_EQ(margin_place(1e9), 1.0);
}

TEST(MarginScale, WordsSayWhatThePictureShows) {
    const RunDocument run = sample_run();
    for (const RowGroup& group : figure_rows(run)) {
        for (const FigureRow& row : group.rows) {
            if (row.label == "THD 1 W, 1 kHz") {
                EXPECT_EQ(scale_words(row),
                          "left 13.3 dB inside the limit, 13.0 to 13.6; right 14.6 dB inside the "
                          "limit, 14.2 to 15.0");
            }
            if (row.label == "damping factor, A") {
                EXPECT_THAT(scale_words(row), HasSubstr("right 1.9 dB outside the limit"));
            }
        }
    }
}

TEST(PlotAxis, LogarithmicPlaceIsLinearInDecades) {
    PlotAxis axis{10.0, 1000.0, true, 0.0, 200.0};
    EXPECT_NEAR(axis.place(100.0), 100.0, 1e-9);
    EXPECT_NEAR(axis.place(1.0), 0.0, 1e-9);
    EXPECT_NEAR(axis.place(1e6), 200.0, 1e-9);
}

TEST(PlotAxis, TicksAreTheTradesRow) {
    EXPECT_EQ(trade_ticks(20.0, 1000.0), (std::vector<double>{20, 50, 100, 200, 500, 1000}));
    EXPECT_EQ(tick_text(1000.0), "1k");
    EXPECT_EQ(tick_text(0.05), "0.05");
}

TEST(Html, EscapesByPlace) {
    EXPECT_EQ(html_escaped("a<b>&\"'"), "a&lt;b&gt;&amp;&quot;&#39;");
    EXPECT_EQ(html_escaped(std::string{"\x1b\xff"} + "\u202e"), "\ufffd\ufffd\ufffd");
    EXPECT_EQ(css_string("a}\"\\</style>"),
              "\"a\\00007d \\000022 \\00005c \\00003c \\00002f style\\00003e \"");
    Html html;
    html.open("p", {{"title", "\"x\" <y>"}}).text("1 < 2").close();
    EXPECT_EQ(html.str(), "<p title=\"&quot;x&quot; &lt;y&gt;\">1 &lt; 2</p>\n");
}

TEST(Html, UnclosedElementIsAMistakeOfTheProgram) {
    Html html;
    html.open("div");
    EXPECT_THROW(static_cast<void>(html.str()), std::logic_error);
    html.close();
    EXPECT_THROW(html.close(), std::logic_error);
}

}  // namespace
}  // namespace afterload::runner
