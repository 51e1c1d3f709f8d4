/// Tones driven past what a unit can give, with the closed forms that tell where.
#pragma once

#include "tests/analysis/synthesis.hpp"

#include <algorithm>
#include <cmath>
#include <functional>

namespace afterload::analysis::test {

// A tone that rises by 6 dB in `seconds` from `start` V peak, through `unit`, with `silence` before
// and after.
inline Waveform ramp(const std::function<double(double)>& unit, double start, double seconds,
                     double noise = 1e-5, std::uint64_t seed = 1, double hertz = 997.0,
                     double phase = 0.3, double silence = 0.0) {
    const double rate = 48000.0;
    Synthesis record{rate, seconds + 2.0 * silence};
    for (std::size_t n = 0; n < record.volts().size(); ++n) {
        const double t = static_cast<double>(n) / rate - silence;
        if (t >= 0.0 && t < seconds) {
            const double peak = start * std::pow(10.0, 6.0 * t / seconds / 20.0);
            record.volts()[n] = unit(peak * std::cos(two_pi * hertz * t + phase));
        }
    }
    return record.noise(noise, seed).waveform();
}

// y = x - a x³ bends softly: H1 = A - 3/4 a A³, H3 = a A³/4 (closed form of the polynomial).
constexpr double soft_bend = 0.01;
inline double soft(double x) {
    return x - soft_bend * x * x * x;
}
// Peak of the fundamental where THD is `thd`: a A² = 4 thd / (1 + 3 thd).
inline double soft_fundamental(double thd) {
    const double square = 4.0 * thd / (1.0 + 3.0 * thd);
    return std::sqrt(square / soft_bend) * (1.0 - 0.75 * square);
}
inline double soft_drive(double thd) {
    return std::sqrt(4.0 * thd / (1.0 + 3.0 * thd) / soft_bend);
}

// Into 8 ohm, from the fundamental's peak.
inline double watts(double peak) {
    return peak * peak / 16.0;
}

// A sine of `peak` between rails of `up` and -`down` volts; the mean taken off, as a coupling
// capacitor does.
inline Synthesis clipped(double peak, double up, double down, double noise = 1e-4,
                         std::uint64_t seed = 1, double hertz = 997.0, double seconds = 0.5) {
    Synthesis record{96000.0, seconds};
    record.line(hertz, peak, 0.7);
    double mean = 0.0;
    for (double& volts : record.volts()) {
        volts = std::clamp(volts, -down, up);
        mean += volts / static_cast<double>(record.volts().size());
    }
    return record.dc(-mean).noise(noise, seed);
}

}  // namespace afterload::analysis::test
