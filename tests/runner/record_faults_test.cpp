// A run must see lost samples under every signal it plays: they would pass for the unit's.
#include "runner/evaluation/record_faults.hpp"

#include "analysis/stimulus.hpp"
#include "runner/evaluation/driven_stimulus.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <array>
#include <random>
#include <string>

namespace afterload::test {
namespace {

using runner::DrivenAs;
using sequences::Signal;

constexpr int rate_hz = 48000;
constexpr Hertz mains{50.0};

DrivenAs driven(Signal signal) {
    DrivenAs as;
    as.signal = signal;
    as.nominal = Hertz{997.0};
    as.drive_left_volts = 0.1;
    as.drive_right_volts = 0.1;
    if (signal == Signal::two_tones) {
        as.tones = {Hertz{60.0}, Hertz{7000.0}};
        as.tone_ratio = 4.0;
    }
    if (signal == Signal::sweep || signal == Signal::multitone) {
        as.band = Band{Hertz{20.0}, Hertz{20000.0}};
        as.period = Seconds{2.0};
    }
    return as;
}

/// Both channels as a card would record what was played, with noise 90 dB below it.
std::array<Waveform, 2> recorded(const DrivenAs& as) {
    const SampleRate rate{rate_hz};
    const auto made = runner::driven_stimulus(as, rate, mains);
    const Seconds length = made.whole > Seconds{0.0} ? made.whole : Seconds{2.0};
    std::array<Waveform, 2> record;
    std::mt19937_64 random{17};
    std::normal_distribution<double> noise{0.0, 3e-6};
    for (std::size_t c = 0; c < 2; ++c) {
        record[c].rate = rate;
        record[c].volts.resize(static_cast<std::size_t>(frames_in(length, rate).count()));
        add_samples(made.stimulus, c, rate, 0.0, Frames{0}, record[c].volts);
        for (double& volts : record[c].volts) {
            volts += noise(random);
        }
    }
    return record;
}

std::vector<CaptureFault> faults_of(const std::array<Waveform, 2>& record, const DrivenAs& as) {
    return runner::record_faults(
        {record[0], record[1]},
        {as, {true, true}, mains, {VoltsPeak{10.0}, VoltsPeak{10.0}}, Seconds{1.0}});
}

void lose(std::array<Waveform, 2>& record, double at, std::ptrdiff_t samples) {
    for (Waveform& channel : record) {
        const auto from = channel.volts.begin() + static_cast<std::ptrdiff_t>(at * rate_hz);
        channel.volts.erase(from, from + samples);
    }
}

class EverySignal : public testing::TestWithParam<Signal> {};

TEST_P(EverySignal, HasNoFaultInAWholeRecord) {
    const DrivenAs as = driven(GetParam());
    const auto faults = faults_of(recorded(as), as);
    EXPECT_TRUE(faults.empty()) << name(faults.front().kind) << ": " << faults.front().note;
}

TEST_P(EverySignal, ShowsSamplesThatTheCardLost) {
    const DrivenAs as = driven(GetParam());
    auto record = recorded(as);
    // Less than half a period of 997 Hz: a slip is known modulo what is played.
    lose(record, 1.13, 20);
    const auto faults = faults_of(record, as);
    ASSERT_FALSE(faults.empty());
    EXPECT_EQ(faults.front().kind, CaptureFaultKind::gap) << faults.front().note;
    EXPECT_EQ(faults.front().channel, 0) << "the card lost them in both channels";
}

INSTANTIATE_TEST_SUITE_P(Played, EverySignal,
                         testing::Values(Signal::tone, Signal::two_tones, Signal::multitone,
                                         Signal::sweep),
                         [](const auto& parameter) {
                             return std::string{sequences::name(parameter.param)};
                         });

TEST(RecordFaults, ASweepThatTheRecordCutsOffIsShort) {
    const DrivenAs as = driven(Signal::sweep);
    auto record = recorded(as);
    for (Waveform& channel : record) {
        channel.volts.resize(channel.volts.size() * 6 / 10);
    }
    const auto faults = faults_of(record, as);
    ASSERT_FALSE(faults.empty());
    EXPECT_EQ(faults.front().kind, CaptureFaultKind::too_short);
}

TEST(RecordFaults, AMultitoneThatNeitherChannelShowsIsSilence) {
    const DrivenAs as = driven(Signal::multitone);
    const auto record = recorded(as);
    const auto faults = runner::record_faults(
        {record[0], record[1]},
        {as, {false, false}, mains, {VoltsPeak{10.0}, VoltsPeak{10.0}}, Seconds{1.0}});
    ASSERT_EQ(faults.size(), 1U);
    EXPECT_EQ(faults.front().kind, CaptureFaultKind::silent);
}

}  // namespace
}  // namespace afterload::test
