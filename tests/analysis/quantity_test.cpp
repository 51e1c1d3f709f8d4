// What must compile does, and what must not does not: units that would be mixed up at a bench are
// types of their own.
#include "analysis/quantity.hpp"

#include "analysis/level.hpp"

#include <gtest/gtest.h>

#include <concepts>
#include <type_traits>

namespace afterload {
namespace {

using namespace afterload::literals;

template <class A, class B>
concept Addable = requires(A a, B b) {
    a + b;
};
template <class A, class B>
concept Subtractable = requires(A a, B b) {
    a - b;
};
template <class A, class B>
concept Multipliable = requires(A a, B b) {
    a* b;
};
template <class A, class B>
concept Divisible = requires(A a, B b) {
    a / b;
};
template <class A, class B>
concept Comparable = requires(A a, B b) {
    a < b;
};
template <class Q, class Unit>
concept ReadAs = requires(Q q) {
    q.template in<Unit>();
};

// Two of one kind add, two kinds do not.
static_assert(Addable<VoltsRms, VoltsRms>);
static_assert(!Addable<VoltsRms, VoltsPeak>);
static_assert(!Addable<VoltsRms, VoltsDc>);
static_assert(!Addable<VoltsPeak, VoltsDc>);
static_assert(!Addable<Watts, VoltsRms>);
static_assert(!Addable<AmplitudeRatio, PowerRatio>);
static_assert(!Addable<Hertz, Seconds>);
static_assert(!Addable<VoltsRms, double>);
static_assert(!Subtractable<Ohms, Watts>);
static_assert(!Comparable<VoltsRms, VoltsPeak>);
static_assert(!Comparable<Hertz, double>);

// A product of two quantities is a quantity of a third kind, so it has a name: dissipated().
static_assert(!Multipliable<VoltsRms, VoltsRms>);
static_assert(!Multipliable<VoltsRms, Ohms>);
static_assert(Multipliable<VoltsRms, double>);
static_assert(!Divisible<VoltsRms, Ohms>);
static_assert(std::same_as<decltype(VoltsRms{} / VoltsRms{}), double>);

// A bare number neither walks in nor out.
static_assert(!std::convertible_to<double, VoltsRms>);
static_assert(!std::convertible_to<double, Hertz>);
static_assert(!std::convertible_to<VoltsRms, double>);
static_assert(std::constructible_from<VoltsRms, double>);
static_assert(!std::constructible_from<VoltsRms, VoltsPeak>);
static_assert(!std::constructible_from<AmplitudeRatio, PowerRatio>);
static_assert(!std::assignable_from<Ohms&, double>);
static_assert(ReadAs<Ohms, Ohms>);
static_assert(!ReadAs<Ohms, Watts>);
static_assert(!ReadAs<VoltsRms, VoltsPeak>);

// Levels are points, gains are differences.
static_assert(!Addable<DbV, DbV>);
static_assert(!Addable<DbV, DbU>);
static_assert(!Subtractable<DbV, DbU>);
static_assert(!Comparable<DbV, DbFs>);
static_assert(std::same_as<decltype(DbV{} - DbV{}), Gain>);
static_assert(std::same_as<decltype(DbV{} + Gain{}), DbV>);
static_assert(!std::convertible_to<double, Gain>);
static_assert(!std::convertible_to<double, DbV>);
static_assert(!std::convertible_to<Gain, DbV>);

// A rate is no frequency, a count is neither an index nor a duration.
static_assert(!std::convertible_to<SampleRate, Hertz>);
static_assert(!std::convertible_to<Hertz, SampleRate>);
static_assert(!Addable<Frames, Frames>);
static_assert(!std::convertible_to<Frames, std::int64_t>);
static_assert(!std::convertible_to<Frames, Seconds>);

TEST(Quantity, FortyWattsIntoEightOhmAreSeventeenPointEightNineVolts) {
    // Common practice of the trade, no source: a rated 40 W amplifier gives 17.89 V rms, 25.3 V
    // peak.
    const VoltsRms volts = voltage_for(40_W, 8_ohm);
    EXPECT_NEAR(volts.in<VoltsRms>(), 17.89, 0.005);
    EXPECT_NEAR(peak_of_sine(volts).in<VoltsPeak>(), 25.3, 0.005);
    EXPECT_NEAR(dissipated(volts, 8_ohm).in<Watts>(), 40.0, 1e-12);
}

TEST(Quantity, PowersOfTheTradeHaveTheirVolts) {
    // P = U²/R; printed to six decimals.
    EXPECT_NEAR(voltage_for(1_W, 2_ohm).in<VoltsRms>(), 1.414214, 5e-7);
    EXPECT_NEAR(voltage_for(1_W, 4_ohm).in<VoltsRms>(), 2.0, 1e-15);
    EXPECT_NEAR(voltage_for(1_W, 6_ohm).in<VoltsRms>(), 2.449490, 5e-7);
    EXPECT_NEAR(voltage_for(1_W, 8_ohm).in<VoltsRms>(), 2.828427, 5e-7);
    EXPECT_NEAR(voltage_for(100_W, 8_ohm).in<VoltsRms>(), 28.284271, 5e-7);
    EXPECT_NEAR(voltage_for(Watts{0.05}, 8_ohm).in<VoltsRms>(), 0.632456, 5e-7);
    EXPECT_NEAR(voltage_for(Watts{12.5}, 8_ohm).in<VoltsRms>(), 10.0, 1e-12);
}

TEST(Quantity, VoltsAcrossAnEmitterResistorAreQuiescentCurrent) {
    // Common practice, no source: 4 mV across 0.22 ohm is 18.2 mA, 7.2 mV is 32.7 mA. The two
    // readings are read after 20 to 25 minutes of warm-up.
    EXPECT_NEAR(current_through(VoltsDc{4e-3}, Ohms{0.22}).in<Amperes>(), 18.2e-3, 0.05e-3);
    EXPECT_NEAR(current_through(VoltsDc{7.2e-3}, Ohms{0.22}).in<Amperes>(), 32.7e-3, 0.05e-3);
}

TEST(Quantity, PeakAndRmsOfASineAreRootTwoApart) {
    EXPECT_DOUBLE_EQ(rms_of_sine(peak_of_sine(2.83_Vrms)).in<VoltsRms>(), 2.83);
    EXPECT_NEAR(peak_of_sine(1_Vrms).in<VoltsPeak>(), 1.4142135623730951, 1e-15);
}

TEST(Quantity, FramesAndSecondsAgreeAtARate) {
    const SampleRate rate{48000.0};
    EXPECT_EQ(frames_in(2_s, rate), Frames{96000});
    EXPECT_EQ(frames_in(Seconds{0.1000001}, rate), Frames{4800});
    EXPECT_DOUBLE_EQ(duration(Frames{24000}, rate).in<Seconds>(), 0.5);
    EXPECT_EQ(rate.nyquist(), 24_kHz);
}

TEST(Quantity, ABandHoldsBothItsEnds) {
    const Band audio{20_Hz, 20_kHz};
    EXPECT_TRUE(audio.contains(20_Hz));
    EXPECT_TRUE(audio.contains(20_kHz));
    EXPECT_FALSE(audio.contains(Hertz{19.9}));
    EXPECT_FALSE(audio.contains(Hertz{20001.0}));
}

TEST(Quantity, ArithmeticKeepsTheKind) {
    EXPECT_EQ(2.0 * 3_Hz + 1_Hz, 7_Hz);
    EXPECT_EQ(-(3_ohm), Ohms{-3.0});
    EXPECT_DOUBLE_EQ(10_W / 4_W, 2.5);
    Hertz frequency = 100_Hz;
    frequency += 20_Hz;
    frequency -= 70_Hz;
    EXPECT_EQ(frequency, 50_Hz);
}

}  // namespace
}  // namespace afterload
