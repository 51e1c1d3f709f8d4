/// Quantities of the bench as types: a number with a unit never travels as a bare double.
///
/// Two quantities of one kind add and compare; two of different kinds do not compile together. A
/// bare number enters through an explicit constructor or a literal (`1_kHz`) and leaves by naming
/// its unit
/// (`frequency.in<Hertz>()`). Peak and rms volts are two kinds: one turns into the other only
/// through a function that says for which waveform.
#pragma once

#include <cmath>
#include <compare>
#include <concepts>
#include <cstdint>
#include <numbers>

namespace afterload {

/// A double with a unit. `Tag` is an empty struct that names the kind; SI units throughout.
template <class Tag>
class Quantity {
public:
    constexpr Quantity() = default;
    explicit constexpr Quantity(double value) : value_{value} {}

    /// The bare number, by naming the unit wanted: `load.in<Ohms>()`. Another unit does not
    /// compile.
    template <class Unit>
    requires std::same_as<Unit, Quantity>
    [[nodiscard]] constexpr double in() const { return value_; }

    constexpr auto operator<=>(const Quantity&) const = default;

    constexpr Quantity operator-() const { return Quantity{-value_}; }
    constexpr Quantity& operator+=(Quantity other) {
        value_ += other.value_;
        return *this;
    }
    constexpr Quantity& operator-=(Quantity other) {
        value_ -= other.value_;
        return *this;
    }
    friend constexpr Quantity operator+(Quantity a, Quantity b) {
        return Quantity{a.value_ + b.value_};
    }
    friend constexpr Quantity operator-(Quantity a, Quantity b) {
        return Quantity{a.value_ - b.value_};
    }
    friend constexpr Quantity operator*(double factor, Quantity q) {
        return Quantity{factor * q.value_};
    }
    friend constexpr Quantity operator*(Quantity q, double factor) {
        return Quantity{factor * q.value_};
    }
    friend constexpr Quantity operator/(Quantity q, double divisor) {
        return Quantity{q.value_ / divisor};
    }
    /// The ratio of two quantities of one kind is a bare number.
    friend constexpr double operator/(Quantity a, Quantity b) { return a.value_ / b.value_; }

private:
    double value_ = 0.0;
};

using VoltsRms = Quantity<struct VoltsRmsTag>;    ///< root mean square, AC
using VoltsPeak = Quantity<struct VoltsPeakTag>;  ///< largest magnitude of one polarity
using VoltsDc = Quantity<struct VoltsDcTag>;      ///< mean value, signed
using Ohms = Quantity<struct OhmsTag>;
using Watts = Quantity<struct WattsTag>;
using Amperes = Quantity<struct AmperesTag>;
using Hertz = Quantity<struct HertzTag>;
using Seconds = Quantity<struct SecondsTag>;
using Celsius = Quantity<struct CelsiusTag>;
using Joules = Quantity<struct JoulesTag>;
using AmplitudeRatio = Quantity<struct AmplitudeRatioTag>;  ///< ratio of voltages, 1 = 0 dB
using PowerRatio = Quantity<struct PowerRatioTag>;          ///< ratio of powers, 1 = 0 dB
using Radians = Quantity<struct RadiansTag>;

/// Samples a second of one channel.
class SampleRate {
public:
    constexpr SampleRate() = default;
    explicit constexpr SampleRate(double hertz) : hertz_{hertz} {}
    [[nodiscard]] constexpr Hertz frequency() const { return Hertz{hertz_}; }
    [[nodiscard]] constexpr Hertz nyquist() const { return Hertz{hertz_ / 2}; }
    constexpr auto operator<=>(const SampleRate&) const = default;

private:
    double hertz_ = 0.0;
};

/// A number of samples of one channel: a count, not an index and not a duration.
class Frames {
public:
    constexpr Frames() = default;
    explicit constexpr Frames(std::int64_t count) : count_{count} {}
    [[nodiscard]] constexpr std::int64_t count() const { return count_; }
    constexpr auto operator<=>(const Frames&) const = default;

private:
    std::int64_t count_ = 0;
};

/// How long `frames` last at `rate`.
[[nodiscard]] constexpr Seconds duration(Frames frames, SampleRate rate) {
    return Seconds{static_cast<double>(frames.count()) / rate.frequency().in<Hertz>()};
}

/// The nearest whole number of frames to `time`.
[[nodiscard]] inline Frames frames_in(Seconds time, SampleRate rate) {
    return Frames{std::llround(time.in<Seconds>() * rate.frequency().in<Hertz>())};
}

/// Peak of a sine of this rms voltage.
[[nodiscard]] constexpr VoltsPeak peak_of_sine(VoltsRms rms) {
    return VoltsPeak{rms.in<VoltsRms>() * std::numbers::sqrt2};
}

/// Rms of a sine of this peak voltage.
[[nodiscard]] constexpr VoltsRms rms_of_sine(VoltsPeak peak) {
    return VoltsRms{peak.in<VoltsPeak>() / std::numbers::sqrt2};
}

/// Power that `voltage` dissipates in `load`: U²/R.
[[nodiscard]] constexpr Watts dissipated(VoltsRms voltage, Ohms load) {
    return Watts{voltage.in<VoltsRms>() * voltage.in<VoltsRms>() / load.in<Ohms>()};
}

/// Current that `voltage` drives through `resistor`: what a meter across an emitter resistor tells.
[[nodiscard]] constexpr Amperes current_through(VoltsDc voltage, Ohms resistor) {
    return Amperes{voltage.in<VoltsDc>() / resistor.in<Ohms>()};
}

/// Rms voltage that dissipates `power` in `load`: √(P·R). Power must not be negative.
[[nodiscard]] VoltsRms voltage_for(Watts power, Ohms load);

/// A band of frequencies, both ends included. Valid when 0 <= low < high.
struct Band {
    Hertz low;
    Hertz high;
    constexpr bool operator==(const Band&) const = default;
    [[nodiscard]] constexpr bool contains(Hertz f) const { return low <= f && f <= high; }
};

namespace literals {
// clang-format off
constexpr Hertz operator""_Hz(long double v) { return Hertz{static_cast<double>(v)}; }
constexpr Hertz operator""_Hz(unsigned long long v) { return Hertz{static_cast<double>(v)}; }
constexpr Hertz operator""_kHz(long double v) { return Hertz{1e3 * static_cast<double>(v)}; }
constexpr Hertz operator""_kHz(unsigned long long v) { return Hertz{1e3 * static_cast<double>(v)}; }
constexpr Ohms operator""_ohm(long double v) { return Ohms{static_cast<double>(v)}; }
constexpr Ohms operator""_ohm(unsigned long long v) { return Ohms{static_cast<double>(v)}; }
constexpr Watts operator""_W(long double v) { return Watts{static_cast<double>(v)}; }
constexpr Watts operator""_W(unsigned long long v) { return Watts{static_cast<double>(v)}; }
constexpr VoltsRms operator""_Vrms(long double v) { return VoltsRms{static_cast<double>(v)}; }
constexpr VoltsRms operator""_Vrms(unsigned long long v) { return VoltsRms{static_cast<double>(v)}; }
constexpr VoltsPeak operator""_Vpeak(long double v) { return VoltsPeak{static_cast<double>(v)}; }
constexpr VoltsPeak operator""_Vpeak(unsigned long long v) { return VoltsPeak{static_cast<double>(v)}; }
constexpr Seconds operator""_s(long double v) { return Seconds{static_cast<double>(v)}; }
constexpr Seconds operator""_s(unsigned long long v) { return Seconds{static_cast<double>(v)}; }
constexpr Seconds operator""_ms(long double v) { return Seconds{1e-3 * static_cast<double>(v)}; }
constexpr Seconds operator""_ms(unsigned long long v) { return Seconds{1e-3 * static_cast<double>(v)}; }
// clang-format on
}  // namespace literals

}  // namespace afterload
