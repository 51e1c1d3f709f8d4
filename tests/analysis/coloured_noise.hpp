/// Colours of noise as units have them, laid on a white record in place.
#pragma once

#include <cmath>
#include <vector>

namespace afterload::analysis::test {

/// The replay curve of RIAA (3180, 318 and 75 µs), about 0 dB at 1 kHz: white noise becomes that of
/// a phono stage.
inline void equalise(std::vector<double>& volts, double rate) {
    const auto low_pass = [rate](std::vector<double>& x, double seconds) {
        const double share = 1.0 - std::exp(-1.0 / (seconds * rate));
        double state = 0.0;
        for (double& v : x) {
            state += share * (v - state);
            v = state;
        }
    };
    const std::vector<double> direct = volts;
    low_pass(volts, 3180e-6);
    for (std::size_t n = 0; n < volts.size(); ++n) {
        volts[n] = 0.9 * volts[n] + 0.1 * direct[n];  // (1 + s T2)/(1 + s T1), T2/T1 = 0.1
    }
    low_pass(volts, 75e-6);
    for (double& v : volts) {
        v *= 10.0;
    }
}

/// Power falling 3 dB an octave within a few tenths of a decibel (three poles after P. Kellet).
inline void pink(std::vector<double>& volts) {
    double a = 0.0;
    double b = 0.0;
    double c = 0.0;
    for (double& v : volts) {
        a = 0.99765 * a + 0.0990460 * v;
        b = 0.96300 * b + 0.2965164 * v;
        c = 0.57000 * c + 1.0526913 * v;
        v = a + b + c + 0.1848 * v;
    }
}

}  // namespace afterload::analysis::test
