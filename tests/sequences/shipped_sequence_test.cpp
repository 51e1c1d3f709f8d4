// The sequences that ship: they read, fit the invented units and benches, and keep the promises of
// the trade: off the mains grid, at most two prompts before the first figure, power last.

#include "sequences/bench_reader.hpp"
#include "sequences/rating_reader.hpp"
#include "sequences/review.hpp"
#include "sequences/sequence_reader.hpp"
#include "tests/sequences/file_text.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <string>

namespace afterload::sequences {
namespace {

Sequence shipped(const std::string& name, const Overrides& overrides = {}) {
    const auto path = source_path("sequences/shipped/" + name + ".sequence.yaml");
    auto sequence = read_sequence(file_text(path), path.string(), overrides);
    EXPECT_TRUE(sequence.has_value()) << (sequence ? "" : text(sequence.error()));
    return sequence.value_or(Sequence{});
}

RatingSheet unit(const std::string& name) {
    const auto sheet =
        read_rating(file_text(source_path("fixtures/units/" + name + ".rating.yaml")), name);
    const auto house = read_rating(file_text(source_path("fixtures/house.rating.yaml")), "house");
    EXPECT_TRUE(sheet.has_value());
    EXPECT_TRUE(house.has_value());
    return laid_under(sheet.value_or(RatingSheet{}), house.value_or(RatingSheet{}));
}

BenchFile bench(const std::string& name) {
    const auto path = source_path("fixtures/benches/" + name + ".bench.yaml");
    const auto read = read_bench(file_text(path), name);
    EXPECT_TRUE(read.has_value()) << (read ? "" : text(read.error()));
    return read.value_or(BenchFile{});
}

std::vector<Hertz> frequencies_of(const Step& step) {
    std::vector<Hertz> all = step.for_each.frequencies;
    if (step.frequency) {
        all.push_back(*step.frequency);
    }
    return all;
}

// Design, section 4: no harmonic up to the tenth within 1.2 / T of a mains line.
TEST(ShippedSequence, PlaysNominalFrequenciesOffTheMainsGrid) {
    for (const auto& path : files_of("sequences/shipped", ".sequence.yaml")) {
        const auto sequence = read_sequence(file_text(path), path.string());
        ASSERT_TRUE(sequence.has_value());
        for (const Step& step : sequence->steps) {
            const double separable = 1.2 / step.record.in<Seconds>();
            for (const Hertz frequency : frequencies_of(step)) {
                for (int order = 1; order <= 10; ++order) {
                    for (const double mains : {50.0, 60.0}) {
                        const double harmonic = order * frequency.in<Hertz>();
                        const double off = std::abs(std::remainder(harmonic, mains));
                        EXPECT_GT(off, separable)
                            << path.filename() << " " << step.name << " " << frequency.in<Hertz>()
                            << " Hz, order " << order << ", mains " << mains << " Hz";
                    }
                }
            }
        }
    }
}

TEST(ShippedSequence, FinalVerificationFitsBothUnitsOnTheirBenches) {
    const Sequence sequence = shipped("final-verification");
    Diagnostics found = review(unit("hollinfay-h40"), bench("north"), sequence);
    EXPECT_TRUE(found.empty()) << text(found);
    found = review(unit("hollinfay-h40"), bench("poor-rig"), sequence);
    EXPECT_TRUE(found.empty()) << text(found);
    found = review(unit("tarnbeck-s60"), bench("south"), sequence);
    EXPECT_TRUE(found.empty()) << text(found);
}

TEST(ShippedSequence, QuickCheckFitsAUnitAsReceived) {
    ReviewSettings settings;
    settings.stage = "as_received";
    const Sequence sequence = shipped("quick-check");
    for (const std::string name : {"north", "north-as-received", "poor-rig"}) {
        const Diagnostics found = review(unit("hollinfay-h40"), bench(name), sequence, settings);
        EXPECT_TRUE(found.empty()) << text(found);
    }
    EXPECT_FALSE(
        review(unit("hollinfay-h40"), bench("north"), shipped("final-verification"), settings)
            .empty());
}

TEST(ShippedSequence, AsksForAtMostTwoPromptsBeforeTheFirstFigure) {
    for (const std::string name : {"final-verification", "quick-check"}) {
        int prompts = 0;
        for (const Step& step : shipped(name).steps) {
            prompts += step.prompt ? 1 : 0;
            if (!step.figures.empty()) {
                break;
            }
        }
        EXPECT_LE(prompts, 2) << name;
    }
}

TEST(ShippedSequence, OffsetIsAGateBeforeAnythingIsDriven) {
    for (const std::string name : {"final-verification", "quick-check"}) {
        const Sequence sequence = shipped(name);
        const Step& first = sequence.steps.front();
        EXPECT_FALSE(first.signal.has_value()) << name;
        EXPECT_TRUE(std::any_of(
            first.meters.begin(), first.meters.end(),
            [](const MeterRequest& meter) { return meter.gate && meter.quantity == "dc_offset"; }))
            << name;
    }
}

TEST(ShippedSequence, FinalVerificationDrivesTheDirectPathAtRatedOutputLast) {
    const Sequence sequence = shipped("final-verification");
    bool power_seen = false;
    std::string path = "direct";
    for (const Step& step : sequence.steps) {
        path = step.path.value_or(path);
        const bool rated = step.level && output_asked(*step.level, Ohms{8.0}, Watts{40.0}) &&
                           dissipated(*output_asked(*step.level, Ohms{8.0}, Watts{40.0}),
                                      Ohms{8.0}) > Watts{1.0001};
        if (path == "direct" && rated) {
            power_seen = true;
        } else if (power_seen && step.signal) {
            EXPECT_EQ(step.signal, Signal::silence) << step.name;
        }
    }
    EXPECT_TRUE(power_seen);
    EXPECT_EQ(sequence.steps.back().signal, Signal::silence);
}

TEST(ShippedSequence, EveryStepThatHeatsTheLoadShowsACaution) {
    const Sequence sequence = shipped("final-verification");
    for (const Step& step : sequence.steps) {
        std::vector<StepLevel> levels(step.for_each.levels.begin(), step.for_each.levels.end());
        if (step.level) {
            levels.push_back(*step.level);
        }
        for (const StepLevel& level : levels) {
            const auto volts = output_asked(level, Ohms{8.0}, Watts{40.0});
            if (volts && dissipated(*volts, Ohms{8.0}) > Watts{5.0}) {
                EXPECT_FALSE(step.cautions.empty()) << step.name;
            }
        }
    }
}

}  // namespace
}  // namespace afterload::sequences
