// Soaks drawn from seeds: whatever is wrong with unit, rig or mains, and whenever it is stopped,
// some things hold. AFTERLOAD_SEED=17 AFTERLOAD_SOAKS=1 replays the soak of seed 17.

#include "runner/finished_run.hpp"
#include "tests/soak/soak_bench.hpp"
#include "tests/support/simulated_run.hpp"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <cstdint>
#include <cstdlib>
#include <random>
#include <set>
#include <string>
#include <string_view>

#ifndef AFTERLOAD_RANDOM_SOAKS
#define AFTERLOAD_RANDOM_SOAKS 8
#endif

namespace afterload::test {
namespace {

constexpr std::array<std::string_view, 9> of_the_rig{
    "lost_frames", "ground_loop", "open_lead",     "lost_card",         "frozen_playback",
    "mains_sag",   "dead_sensor", "frozen_sensor", "disagreeing_sensor"};
constexpr std::array<std::string_view, 14> of_the_unit{
    "bad_joint",    "contact_film",     "bias_runaway",    "poor_thermal_tracking",
    "random_steps", "wandering_offset", "thermal_cut_out", "dried_coupling_capacitor",
    "raised_hum",   "noisy_stage",      "offset",          "sagging_rails",
    "dead_channel", "resistive_relay"};

long from_environment(const char* name, long otherwise) {
    const char* const text = std::getenv(name);  // NOLINT(concurrency-mt-unsafe)
    return text != nullptr ? std::strtol(text, nullptr, 10) : otherwise;
}

/// Draws that do not depend on the library's distributions.
class Draw {
public:
    explicit Draw(std::uint64_t seed) : engine_{seed * 0x9E3779B97F4A7C15ULL + 1} {}
    double uniform(double low, double high) {
        return low + (high - low) * static_cast<double>(engine_() >> 11U) * 0x1.0p-53;
    }
    bool chance(double of) { return uniform(0.0, 1.0) < of; }
    std::size_t below(std::size_t count) {
        return static_cast<std::size_t>(uniform(0.0, static_cast<double>(count)));
    }

private:
    std::mt19937_64 engine_;
};

struct Drawn {
    WantedSoak wanted;
    bool rig_alone = true;
    std::string words;
};

Drawn drawn(std::uint64_t seed) {
    Draw draw{seed};
    Drawn made;
    WantedSoak& wanted = made.wanted;
    wanted.minutes = draw.uniform(1.0, 2.5);
    wanted.signal = draw.chance(0.7) ? "sine" : "pink_noise";
    wanted.run_seed = seed;
    wanted.sink_sensors = draw.chance(0.4) ? 2 : 1;
    wanted.remeasure = draw.chance(0.6);
    const bool cycles = draw.chance(0.2);
    const double on = draw.uniform(20.0, 60.0);
    const double off = draw.uniform(10.0, 30.0);
    wanted.change = [=](sequences::Soak& soak) {
        if (cycles) {
            soak.cycle = sequences::OnOffCycle{Seconds{on}, Seconds{off}};
        }
    };
    const bool rig_alone = draw.chance(0.5);
    const std::size_t faults = draw.below(4);
    for (std::size_t i = 0; i < faults; ++i) {
        const bool of_rig = rig_alone || draw.chance(0.4);
        const std::string_view name = of_rig ? of_the_rig[draw.below(of_the_rig.size())]
                                             : of_the_unit[draw.below(of_the_unit.size())];
        const std::array sides{Channels::left, Channels::right, Channels::both};
        auto entry = fault(std::string{name}, sides[draw.below(3)], draw.uniform(0.0, 1.0),
                           draw.uniform(5.0, 60.0 * wanted.minutes));
        if (draw.chance(0.15)) {
            entry.above = Celsius{draw.uniform(26.0, 32.0)};
        }
        made.rig_alone = made.rig_alone && of_rig;
        made.words +=
            fmt::format(" {} ({}, {:.2f}, {:.0f} s)", name, afterload::name(entry.channel),
                        entry.severity, entry.begins->in<Seconds>());
        wanted.faults.push_back(std::move(entry));
    }
    if (draw.chance(0.15)) {
        wanted.stop_after = Seconds{draw.uniform(10.0, 60.0 * wanted.minutes)};
        made.words += fmt::format(", told to stop at {:.0f} s", wanted.stop_after->in<Seconds>());
    }
    return made;
}

/// Every step that was measured is in the folder, with every record whole.
void expect_nothing_lost(const Soaked& run) {
    const auto read = runner::read_finished_run(run.folder);
    ASSERT_TRUE(read.has_value()) << read.error();
    ASSERT_EQ(read->document.steps.size(), run.document.steps.size());
    for (std::size_t i = 0; i < read->document.steps.size(); ++i) {
        const auto& kept = read->document.steps[i];
        const auto& measured = run.document.steps[i];
        EXPECT_EQ(kept.figures.size(), measured.figures.size()) << kept.name;
        EXPECT_EQ(kept.events.size(), measured.events.size()) << kept.name;
        for (const auto& record : kept.records) {
            const auto loaded = read->folder.load(record);
            EXPECT_TRUE(loaded.has_value()) << (loaded ? "" : loaded.error());
        }
    }
}

/// So many soaks a test: each is over long before a test is taken for one that hangs.
constexpr long soaks_a_test = 20;

class RandomSoak : public testing::TestWithParam<long> {};

TEST_P(RandomSoak, IsSafeAtItsEndKeepsTheLimitsLosesNothingAndBlamesNoUnitForItsRig) {
    const long seed_asked = from_environment("AFTERLOAD_SEED", 0);
    const long first = seed_asked > 0 ? seed_asked : 1 + GetParam() * soaks_a_test;
    const long count =
        from_environment("AFTERLOAD_SOAKS", std::min<long>(soaks_a_test, AFTERLOAD_RANDOM_SOAKS));
    if (seed_asked > 0 && GetParam() > 0) {
        return;  // the one that was asked for is the first test's
    }
    for (long seed = first; seed < first + count; ++seed) {
        const Drawn draw = drawn(static_cast<std::uint64_t>(seed));
        SCOPED_TRACE(fmt::format("AFTERLOAD_SEED={} AFTERLOAD_SOAKS=1:{}, {} for {:.1f} min", seed,
                                 draw.words, draw.wanted.signal, draw.wanted.minutes));
        const TemporaryFolder folder;
        const Soaked run = soaked(draw.wanted, folder.path());
        EXPECT_TRUE(run.outputs_safe()) << run.document.stop_reason;
        EXPECT_LE(run.strain.worst_range_use, 1.0);
        // 60 W a channel is what the house allows: 31.0 V peak into 8.02 ohm.
        EXPECT_LE(run.strain.worst_output, 31.1) << run.told();
        expect_nothing_lost(run);
        if (draw.rig_alone) {
            for (const auto& step : run.document.steps) {
                for (const auto& event : step.events) {
                    EXPECT_NE(event.blame, runner::Blame::unit)
                        << event.kind << " at " << event.since_start.in<Seconds>()
                        << " s: " << event.note;
                }
            }
        }
        if (draw.wanted.faults.empty() && !draw.wanted.stop_after) {
            EXPECT_EQ(run.soak().state, "finished") << run.told();
            EXPECT_TRUE(run.events().empty()) << run.told();
        }
        if (testing::Test::HasFailure()) {
            GTEST_FAIL() << "stopped at the first seed that fails";
        }
    }
}

INSTANTIATE_TEST_SUITE_P(Seeds, RandomSoak,
                         testing::Range(0L,
                                        std::max(1L, long{AFTERLOAD_RANDOM_SOAKS} / soaks_a_test)));

}  // namespace
}  // namespace afterload::test
