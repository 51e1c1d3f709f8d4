// Where to look first, on the simulated bench: each control that is left in the wrong place is
// named, each fault of a unit gives its family first, and a rig that is at fault alone gives no
// fault of the unit. The slow program takes ten seeds of all; the ordinary one a few, beside the
// scenarios, each of which states its hint.
#include "runner/hints/hints.hpp"

#include "sequences/hint_reader.hpp"
#include "tests/support/simulated_run.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <optional>
#include <ostream>
#include <string>
#include <utility>
#include <vector>

namespace afterload::test {
namespace {

#ifdef AFTERLOAD_ALL_HINTS
constexpr int seeds = 10;
constexpr int right_at_least = 8;
constexpr int control_seeds = 3;
#else
constexpr int seeds = 1;
constexpr int right_at_least = 1;
constexpr int control_seeds = 1;
#endif

/// A run of `sequence`; the card at 48 kHz and a short dwell, the same figures sooner.
SimulatedRun run_of(const std::string& sequence, int seed) {
    SimulatedRun wanted;
    wanted.sequence = sequence;
    wanted.bench = "benches/north-48k.bench.yaml";
    if (sequence == "final-verification") {
        wanted.set = {{"top", "5997 Hz"}, {"dwell", "1 s"}};
    }
    if (sequence == "final-verification, 192 kHz") {
        wanted.sequence = "final-verification";
        wanted.bench = "benches/north.bench.yaml";
        wanted.set = {{"dwell", "1 s"}};
    }
    wanted.change = [seed](runner::RunPlan& plan) {
        plan.bench.simulated->unit_seed = static_cast<std::uint64_t>(seed + 100);
        plan.bench.simulated->rig_seed = static_cast<std::uint64_t>(seed + 1100);
        plan.bench.simulated->run_seed = static_cast<std::uint64_t>(seed + 2100);
    };
    return wanted;
}

runner::Hints hints_of(SimulatedRun wanted, const sequences::SimulationEntry& what) {
    const TemporaryFolder folder;
    const auto seeded = wanted.change;
    wanted.change = [seeded, &what](runner::RunPlan& plan) {
        seeded(plan);
        plan.bench.simulated->faults = what.faults;
        plan.bench.simulated->left_wrong = what.left_wrong;
    };
    return runner::hints_for(carry_out(wanted, folder.path()).document, sequences::shipped_hints());
}

std::string listed(const runner::Hints& hints) {
    std::string text;
    for (const auto& hint : hints.hints) {
        text += " " + hint.name + " (" + hint.where + ")";
    }
    return text.empty() ? " none" : text;
}

// --- faults of the unit

struct Fault {
    std::string name;
    std::string family;
    std::string sequence = "final-verification";
    bool both = false;  ///< a fault of what both channels share
    bool sided = true;  ///< the hint names its channel
    double severity = 0.5;
    std::optional<Seconds> begins{};  ///< since the start; absent: it is there from the first
};

void PrintTo(const Fault& fault, std::ostream* out) {
    *out << fault.name;
}

/// Left and right by turns.
Channels side_of(const Fault& fault, int seed) {
    return fault.both ? Channels::both : seed % 2 == 0 ? Channels::left : Channels::right;
}

runner::Hints hints_of(const Fault& fault, int seed) {
    sequences::SimulationEntry what;
    what.faults = {{fault.name, side_of(fault, seed), fault.severity, fault.begins, {}}};
    return hints_of(run_of(fault.sequence, seed), what);
}

class FaultHints : public testing::TestWithParam<Fault> {};

TEST_P(FaultHints, TheRightFamilyComesFirst) {
    const Fault& fault = GetParam();
    int right = 0;
    std::string seen;
    for (int seed = 0; seed < seeds; ++seed) {
        const Channels channel = side_of(fault, seed);
        const runner::Hints hints = hints_of(fault, seed);
        const bool first = !hints.hints.empty() && hints.hints.front().family == fault.family;
        const bool there =
            fault.both || !fault.sided || hints.hints.empty() ||
            hints.hints.front().where == (channel == Channels::left ? "left" : "right");
        right += first && there ? 1 : 0;
        seen += " seed " + std::to_string(seed) + ":" + listed(hints) + ";";
    }
    EXPECT_GE(right, right_at_least)
        << fault.family << " first in " << right << " of " << seeds << seen;
    RecordProperty("right", right);
}

std::vector<Fault> faults() {
    const std::string warm = "sequences/warm.sequence.yaml";
    const std::string soak = "sequences/short-soak.sequence.yaml";
    std::vector<Fault> all{
        {"starved_bias", "bias"},
        {"overbias", "bias", warm},
        {"poor_thermal_tracking", "bias", warm},
        {"bias_runaway", "bias", warm},
        {"slow_device", "slow device", "final-verification, 192 kHz"},
        {"early_limiter", "limiter"},
        {"weak_main_rail", "supply"},
        {"sagging_rails", "supply", "final-verification", true},
        {"dried_reservoir", "supply", "final-verification", true},
        {"low_tone_supply", "tone supply", "final-verification", true},
        {"resistive_relay", "contact", "outputs"},
        {"contact_film", "contact"},
        {"volume_gang_error", "volume control", "controls", false, false},
        {"mono_bleed", "crosstalk"},
        {"tone_off_centre", "tone stage"},
        {"dried_coupling_capacitor", "coupling"},
        {"dried_feedback_capacitor", "coupling"},
        {"gain_error", "gain"},
        {"dead_channel", "no output"},
        {"bad_joint", "intermittent"},
        {"offset", "offset"},
        {"wandering_offset", "offset", warm},
        {"noisy_stage", "noise"},
        {"noisy_input_stage", "noise"},
        {"random_steps", "noise"},
        {"thermal_cut_out", "heat", soak, true, true, 0.5, Seconds{100.0}},
        {"raised_hum", "hum"},
        {"capacitive_crosstalk", "crosstalk"},
        {"drifted_equalisation", "phono", "phono"},
        {"noisy_phono_stage", "phono noise", "phono"},
    };
#ifndef AFTERLOAD_ALL_HINTS
    std::erase_if(all, [](const Fault& fault) {
        return fault.name != "overbias" && fault.name != "bad_joint";
    });
#endif
    return all;
}

INSTANTIATE_TEST_SUITE_P(Faults, FaultHints, testing::ValuesIn(faults()),
                         [](const auto& one) { return one.param.name; });

// --- the rig alone

class RigHints : public testing::TestWithParam<Fault> {};

TEST_P(RigHints, NameNoFaultOfTheUnit) {
    const Fault& fault = GetParam();
    for (int seed = 0; seed < seeds; ++seed) {
        const runner::Hints hints = hints_of(fault, seed);
        for (const auto& hint : hints.hints) {
            EXPECT_EQ(hint.about, sequences::HintAbout::rig) << "seed " << seed << listed(hints);
        }
    }
}

std::vector<Fault> rig_faults() {
    std::vector<Fault> all;
    for (const char* const name :
         {"lost_frames", "ground_loop", "mains_sag", "lost_card", "frozen_playback", "dead_sensor",
          "frozen_sensor", "disagreeing_sensor"}) {
        all.push_back({name, "", "final-verification", true});
    }
    for (const char* const name : {"swapped_leads", "late_capture"}) {
        all.push_back({name, "", "final-verification", true});
    }
    for (const char* const name : {"open_lead", "turned_lead"}) {
        all.push_back({name, "", "final-verification", false});
    }
    const std::string soak = "sequences/short-soak.sequence.yaml";
    for (const char* const name : {"dead_sensor", "frozen_sensor", "disagreeing_sensor"}) {
        all.push_back({name, "", soak, true, true, 0.5, Seconds{100.0}});
    }
    all.push_back({"open_lead", "", soak, false, true, 0.5, Seconds{100.0}});
#ifndef AFTERLOAD_ALL_HINTS
    std::erase_if(all, [](const Fault& fault) { return fault.name != "mains_sag"; });
#endif
    return all;
}

INSTANTIATE_TEST_SUITE_P(Faults, RigHints, testing::ValuesIn(rig_faults()), [](const auto& one) {
    return one.param.name + (one.param.begins ? "_in_a_soak" : "");
});

TEST(RigHints, LeadsThatAreExchangedOrTurnedAreNamedFirst) {
    for (int seed = 0; seed < control_seeds; ++seed) {
        const runner::Hints exchanged =
            hints_of({"swapped_leads", "", "final-verification", true}, seed);
        ASSERT_FALSE(exchanged.hints.empty()) << "seed " << seed;
        EXPECT_EQ(exchanged.hints.front().name, "channels_exchanged") << listed(exchanged);
        const Fault turned{"turned_lead", "", "final-verification", false};
        const runner::Hints round = hints_of(turned, seed);
        ASSERT_FALSE(round.hints.empty()) << "seed " << seed;
        EXPECT_EQ(round.hints.front().name, "turned_round") << listed(round);
        EXPECT_EQ(round.hints.front().where,
                  side_of(turned, seed) == Channels::left ? "left" : "right");
    }
}

TEST(RigHints, OfARigWorseThanTheUnitNameNoFaultOfIt) {
    for (int seed = 0; seed < seeds; ++seed) {
        SimulatedRun wanted = run_of("quick-check", seed);
        wanted.bench = "benches/poor-rig.bench.yaml";
        const runner::Hints hints = hints_of(wanted, {});
        EXPECT_TRUE(hints.hints.empty()) << "seed " << seed << listed(hints);
    }
}

// --- a healthy unit

// healthy_units_test.cpp has the final verification.
TEST(HealthyHints, AreNoneInAnyOtherSequence) {
    std::vector<std::string> others{"quick-check", "outputs", "phono", "controls",
                                    "sequences/warm.sequence.yaml"};
#ifndef AFTERLOAD_ALL_HINTS
    others.resize(1);
#endif
    for (const std::string& sequence : others) {
        for (int seed = 0; seed < seeds; ++seed) {
            const runner::Hints hints = hints_of(run_of(sequence, seed), {});
            EXPECT_TRUE(hints.hints.empty()) << sequence << ", seed " << seed << listed(hints);
        }
    }
}

// --- controls in the wrong place

struct LeftControl {
    std::string name;
    std::vector<sequences::LeftWrongEntry> left;
    std::string hint;
    std::string sequence = "final-verification";
    bool first = true;  ///< the hint comes first; else it is among them
};

void PrintTo(const LeftControl& control, std::ostream* out) {
    *out << control.name;
}

class ControlHints : public testing::TestWithParam<LeftControl> {};

TEST_P(ControlHints, NameTheControlThatStandsWrong) {
    const LeftControl& control = GetParam();
    for (int seed = 0; seed < control_seeds; ++seed) {
        sequences::SimulationEntry what;
        what.left_wrong = control.left;
        const runner::Hints hints = hints_of(run_of(control.sequence, seed), what);
        const auto found =
            std::find_if(hints.hints.begin(), hints.hints.end(),
                         [&control](const auto& hint) { return hint.name == control.hint; });
        EXPECT_NE(found, hints.hints.end()) << "seed " << seed << listed(hints);
        if (control.first) {
            EXPECT_EQ(found, hints.hints.begin()) << "seed " << seed << listed(hints);
        }
    }
}

std::vector<LeftControl> controls() {
    std::vector<LeftControl> all{
        {"loudness", {{"loudness", "in"}}, "loudness", "controls"},
        {"tone", {{"bass", "4 dB"}, {"treble", "-3 dB"}}, "tone_controls"},
        {"tone_not_defeated", {{"tone", "flat"}, {"bass", "4 dB"}}, "tone_controls"},
        {"rumble_filter", {{"rumble_filter", "in"}}, "rumble_filter"},
        {"high_filter", {{"high_filter", "in"}}, "high_filter"},
        {"balance", {{"balance", "3 dB"}}, "balance"},
        {"mono", {{"mode", "mono"}}, "mono", "quick-check"},
        {"tape_monitor", {{"tape_monitor", "in"}}, "tape_monitor", "quick-check"},
        {"muting", {{"muting", "in"}}, "muting", "quick-check"},
        {"wrong_input", {{"input", "phono"}}, "wrong_input", "quick-check"},
        {"speakers_off", {{"speakers", "off"}}, "speakers_off", "quick-check"},
        {"speakers_b", {{"speakers", "B"}}, "speakers_off", "quick-check"},
        {"speakers_both", {{"speakers", "A+B"}}, "speakers_both", "final-verification", false},
        {"volume", {{"volume", "-6 dB"}}, "volume_mark", "quick-check"},
        {"subsonic_filter", {{"subsonic_filter", "in"}}, "subsonic_filter", "phono"},
        {"jumpers", {{"jumpers", "out"}}, "jumpers", "quick-check"},
        {"one_jumper", {{"jumpers", "right out"}}, "jumpers", "quick-check"},
    };
#ifndef AFTERLOAD_ALL_HINTS
    std::erase_if(all, [](const LeftControl& control) {
        return control.name != "mono" && control.name != "muting" &&
               control.name != "tape_monitor" && control.name != "one_jumper";
    });
#endif
    return all;
}

INSTANTIATE_TEST_SUITE_P(Controls, ControlHints, testing::ValuesIn(controls()),
                         [](const auto& one) { return one.param.name; });

}  // namespace
}  // namespace afterload::test
