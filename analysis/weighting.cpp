#include "analysis/weighting.hpp"

namespace afterload::analysis {

namespace {

// The pole frequencies, from the standard's own definition: reference 1 kHz, corners
// 10^1.5 and 10^3.9 Hz with D² = 1/2, high-pass 10^2.45 Hz (IEC 61672-1:2013, E.2 to E.4).
constexpr double f1 = 20.598997057618;
constexpr double f2 = 107.652648643046;
constexpr double f3 = 737.862230736290;
constexpr double f4 = 12194.217147998012;

constexpr double squared(double x) {
    return x * x;
}

constexpr double power_response(double f) {
    const double ff = f * f;
    const double upper = squared(f4) * ff * ff;
    return squared(upper / ((ff + squared(f1)) * (ff + squared(f4)))) /
           ((ff + squared(f2)) * (ff + squared(f3)));
}

constexpr double at_reference = power_response(1000.0);

// Numerator and denominator of the network: f over a polynomial of the sixth degree in jf.
std::complex<double> network(double f) {
    const double ff = f * f;
    const double even = 1.0 + ff * (-1.363894795463638e-7 +
                                    ff * (2.043828333606125e-15 + ff * -4.737338981378384e-24));
    const double odd =
        f * (5.559488023498642e-4 + ff * (-2.118150887518656e-11 + ff * 1.306612257412824e-19));
    return std::complex<double>{0.0, f} / std::complex<double>{even, odd};
}

}  // namespace

std::complex<double> itu_r_468_response(Hertz frequency) {
    static const double scale =
        amplitude_ratio(Gain{12.2}).in<AmplitudeRatio>() / std::abs(network(6300.0));
    return scale * network(frequency.in<Hertz>());
}

Gain itu_r_468_weighting(Hertz frequency) {
    return gain_of(weight_of(Weighting::itu_r_468, frequency));
}

PowerRatio weight_of(Weighting weighting, Hertz frequency) {
    switch (weighting) {
        case Weighting::unweighted:
            return PowerRatio{1.0};
        case Weighting::a:
            return PowerRatio{power_response(frequency.in<Hertz>()) / at_reference};
        case Weighting::itu_r_468:
            return PowerRatio{std::norm(itu_r_468_response(frequency))};
    }
    return PowerRatio{1.0};
}

Gain a_weighting(Hertz frequency) {
    return gain_of(weight_of(Weighting::a, frequency));
}

}  // namespace afterload::analysis
