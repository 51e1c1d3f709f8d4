/// Records with a known truth: sums of lines, drift and noise, each from a seed that is stated.
#pragma once

#include "analysis/quantity.hpp"
#include "analysis/waveform.hpp"

#include <cmath>
#include <cstdint>
#include <numbers>
#include <random>
#include <vector>

namespace afterload::analysis::test {

constexpr double two_pi = 2.0 * std::numbers::pi;

/// A record that lines and noise are added to.
class Synthesis {
public:
    Synthesis(double rate, double seconds)
        : waveform_{std::vector<double>(static_cast<std::size_t>(std::lround(rate * seconds)), 0.0),
                    SampleRate{rate}} {}

    /// amplitude · cos(2π f t + phase), t from the first sample. The argument is reduced in long
    /// double, so that a long record at a high frequency is right to the last digits.
    Synthesis& line(double frequency, double amplitude, double phase) {
        const long double turn = static_cast<long double>(frequency) / rate();
        for (std::size_t n = 0; n < waveform_.volts.size(); ++n) {
            const long double turns = turn * static_cast<long double>(n);
            const double angle = two_pi * static_cast<double>(turns - std::floor(turns));
            waveform_.volts[n] += amplitude * std::cos(angle + phase);
        }
        return *this;
    }
    Synthesis& dc(double volts) {
        for (double& x : waveform_.volts) {
            x += volts;
        }
        return *this;
    }
    /// A straight line from 0 to `volts` over the record.
    Synthesis& ramp(double volts) {
        for (std::size_t n = 0; n < waveform_.volts.size(); ++n) {
            waveform_.volts[n] +=
                volts * static_cast<double>(n) / static_cast<double>(waveform_.volts.size());
        }
        return *this;
    }
    /// White noise of `rms` volts over the whole band.
    Synthesis& noise(double rms, std::uint64_t seed) {
        std::mt19937_64 engine{seed};
        std::normal_distribution<double> normal{0.0, rms};
        for (double& x : waveform_.volts) {
            x += normal(engine);
        }
        return *this;
    }
    /// Multiplies by shape(t), t in seconds.
    template <class Shape>
    Synthesis& modulated(const Shape& shape) {
        for (std::size_t n = 0; n < waveform_.volts.size(); ++n) {
            waveform_.volts[n] *= shape(static_cast<double>(n) / rate());
        }
        return *this;
    }

    [[nodiscard]] double rate() const { return waveform_.rate.frequency().in<Hertz>(); }
    [[nodiscard]] std::vector<double>& volts() { return waveform_.volts; }
    [[nodiscard]] const Waveform& waveform() const { return waveform_; }
    // A synthesis stands wherever a record is read.
    operator WaveformView() const { return waveform_; }  // NOLINT(google-explicit-constructor)

private:
    Waveform waveform_;
};

inline double decibels(double ratio) {
    return 20.0 * std::log10(ratio);
}

/// Rms of white noise that stands `snr_db` below a sine of `amplitude` volts peak.
inline double noise_below(double amplitude, double snr_db) {
    return amplitude / std::numbers::sqrt2 * std::pow(10.0, -snr_db / 20.0);
}

}  // namespace afterload::analysis::test
