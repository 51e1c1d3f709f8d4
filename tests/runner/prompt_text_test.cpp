#include "runner/papers/prompt_text.hpp"

#include "runner/papers/figure_text.hpp"
#include "tests/runner/sample_run.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <sstream>

namespace afterload::runner {
namespace {

using testing::HasSubstr;

sequences::Prompt tone_prompt() {
    sequences::Prompt prompt;
    prompt.controls = {{"tone", "switch to ON (tone path)"}, {"bass, treble", "centre"}};
    prompt.cautions = {
        "The load and the heat sink are hot. Keep clear of the rear terminals. Follow "
        "the electrical code and the workplace rules where you are."};
    return prompt;
}

StepProgress progress() {
    return {4,           15,           "THD 1 W, 1 kHz", "both",
            "recording", Seconds{2.4}, Seconds{4.0},     Seconds{200.0}};
}

void expect_within(const std::string& text, std::size_t width) {
    std::istringstream in{text};
    for (std::string line; std::getline(in, line);) {
        EXPECT_LE(columns(line), width) << line;
    }
}

TEST(Prompt, ListsPositionsAndSaysThatTheOutputIsMuted) {
    const std::string text = prompt_text(tone_prompt(), 1, 2);
    EXPECT_THAT(text, HasSubstr("Your hands, 1 of 2   the output is muted until you answer"));
    EXPECT_THAT(text, HasSubstr("  tone          switch to ON (tone path)"));
    EXPECT_THAT(text, HasSubstr("  bass, treble  centre"));
    EXPECT_THAT(text, HasSubstr("  Caution  The load and the heat sink are hot."));
    EXPECT_THAT(text,
                HasSubstr("  Enter done   s skip the step that needs it   n note   q stop the "
                          "run, safely"));
}

TEST(Prompt, SaysSoWhenTheToneKeepsPlaying) {
    sequences::Prompt prompt = tone_prompt();
    prompt.listens = true;
    EXPECT_THAT(prompt_text(prompt, 1, 1), HasSubstr("the tone keeps playing"));
}

TEST(Prompt, FitsTheTerminal) {
    for (const std::size_t width : {50U, 80U}) {
        expect_within(prompt_text(tone_prompt(), 1, 2, {width, false, true}), width);
    }
}

TEST(Prompt, ShippedCautionsStandInFull) {
    sequences::Prompt prompt;
    prompt.cautions = {"mains"};
    EXPECT_THAT(prompt_text(prompt, 1, 1), HasSubstr("Caution  Mains is present"));
}

TEST(Progress, IsOneLineOfWordsAndTimeLeft) {
    EXPECT_EQ(progress_line(progress(), {}),
              "step 4 of 15  THD 1 W, 1 kHz   both   recording 2.4 of 4.0 s   3 min 20 s left");
    EXPECT_LE(columns(progress_line(progress(), {40, false, true})), 40U);
}

TEST(Progress, PlainLineNamesTimeStepAndOutcome) {
    EXPECT_EQ(plain_line("16:06:58", progress(), "left 0.0190 % right 0.0176 % pass", {}),
              "16:06:58 step 4/15 THD 1 W, 1 kHz: left 0.0190 % right 0.0176 % pass\n");
}

TEST(FigureText, BudgetStandsLineByLineLargestFirst) {
    const RunDocument run = sample_run();
    const std::string text = figure_text(run, run.steps[1].figures[4], {});
    EXPECT_THAT(text, HasSubstr("value           0.0108 ± 0.0004 % (k = 2)"));
    EXPECT_THAT(text, HasSubstr("limit           ≤ 0.05 %, page 3"));
    EXPECT_THAT(text, HasSubstr("13.3 dB inside"));
    const std::size_t systematic = text.find("91 %");
    const std::size_t noise = text.find(" 9 %");
    ASSERT_NE(systematic, std::string::npos);
    ASSERT_NE(noise, std::string::npos);
    EXPECT_LT(systematic, noise);
    EXPECT_THAT(
        text,
        HasSubstr("91 % of the variance is range high, left, 2026-03-02: calibrate range high\n"
                  "  against the meter. Without it U would be"));
    expect_within(text, 80);
}

TEST(FigureText, BoundSaysThatItCannotBeToldFromNoiseAndRig) {
    const RunDocument run = sample_run();
    EXPECT_THAT(figure_text(run, run.steps[5].figures[4], {}),
                HasSubstr("at most 0.0021 %: it cannot be told from noise and rig"));
}

}  // namespace
}  // namespace afterload::runner
