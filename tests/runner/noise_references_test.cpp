// Signal-to-noise in a run, under the references that sheets use.
#include "runner/papers/figure_text.hpp"
#include "runner/papers/terminal_text.hpp"
#include "tests/support/simulated_run.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <string>

namespace afterload::test {
namespace {

using runner::ScoredFigure;
using testing::HasSubstr;

class NoiseReferences : public testing::Test {
protected:
    static void SetUpTestSuite() {
        SimulatedRun wanted;
        wanted.sequence = "sequences/noise-references.sequence.yaml";
        wanted.bench = "benches/north-48k.bench.yaml";
        const TemporaryFolder folder;
        document_ = carry_out(wanted, folder.path()).document;
    }

    static const ScoredFigure& figure(const std::string& id) {
        for (const auto& step : document_.steps) {
            for (const ScoredFigure& scored : step.figures) {
                if (scored.id == id) {
                    return scored;
                }
            }
        }
        throw std::runtime_error("the run has no figure " + id);
    }

    static double value(const std::string& id) { return figure(id).figure.value.value(); }

    static double detail(const ScoredFigure& scored, const std::string& wanted) {
        for (const auto& [name, value] : scored.figure.details) {
            if (name == wanted) {
                return value;
            }
        }
        throw std::runtime_error(scored.id + " has no detail " + wanted);
    }

    static runner::RunDocument document_;
};

runner::RunDocument NoiseReferences::document_;

TEST_F(NoiseReferences, ReAnInputVoltageIsThatVoltageTimesTheGainOverTheNoise) {
    const double gain = std::pow(10.0, value("gain/gain/1 W/997Hz/left") / 20.0);
    const double noise = value("quiet/noise_voltage/A/left");
    EXPECT_NEAR(value("quiet/signal_to_noise/A/re 0.5 V in/left"),
                20.0 * std::log10(0.5 * gain / noise), 1e-9);
}

// Gain and noise are read in two ranges here, and share nothing but the converter.
TEST_F(NoiseReferences, TheGainsUncertaintyIsAmongTheBudget) {
    const auto& referred = figure("quiet/signal_to_noise/A/re 0.5 V in/left").figure;
    const auto& plain = figure("quiet/signal_to_noise/A/re 1 W/left").figure;
    const auto& gain = figure("gain/gain/1 W/997Hz/left").figure;
    const double apart = std::hypot(combined(plain.budget), combined(gain.budget));
    EXPECT_NEAR(combined(referred.budget), apart, 1e-9 * apart);
}

// 40 W re 50 mW is 29.0 dB (10 lg 800, computed).
TEST_F(NoiseReferences, TheSheetsReferenceIsReachedByConversionAndTheStepIsShown) {
    const auto& measured = figure("quiet/signal_to_noise/A/left");
    const auto& asked_re_50_mw = document_.steps.back().figures;
    const ScoredFigure* converted = nullptr;
    for (const ScoredFigure& scored : asked_re_50_mw) {
        for (const auto& [name, value] : scored.figure.details) {
            if (name == "converted_from" && scored.figure.channel == 1) {
                converted = &scored;
            }
        }
    }
    ASSERT_NE(converted, nullptr);
    EXPECT_NEAR(detail(*converted, "conversion"), 29.03, 0.005);
    EXPECT_NEAR(*converted->figure.value, *measured.figure.value, 1e-9);
    ASSERT_TRUE(converted->verdict);
    EXPECT_EQ(converted->rating->id, "signal_to_noise");
    EXPECT_EQ(converted->verdict->kind, measured.verdict->kind);

    const std::string shown = runner::figure_text(document_, *converted, runner::Terminal{});
    EXPECT_THAT(shown, HasSubstr("converted from"));
    EXPECT_THAT(shown, HasSubstr("conversion"));
}

TEST_F(NoiseReferences, BeforeTheGainIsKnownTheFigureSaysWhatToDo) {
    const auto& early = figure("too early/signal_to_noise/A/re 0.5 V in/left");
    EXPECT_FALSE(early.figure.value);
    EXPECT_THAT(early.figure.unresolved, HasSubstr("0.5 V at the input"));
    EXPECT_THAT(early.figure.unresolved, HasSubstr("`gain`"));
}

TEST_F(NoiseReferences, TheLabelNamesEveryReferenceButRatedOutput) {
    EXPECT_EQ(figure("quiet/signal_to_noise/A/re 0.5 V in/left").label,
              "signal to noise, A re 0.5 V in");
    EXPECT_EQ(figure("quiet/signal_to_noise/A/left").label, "signal to noise, A");
}

}  // namespace
}  // namespace afterload::test
