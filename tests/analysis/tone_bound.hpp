/// How near the tone fit comes to the Cramér-Rao bound in white noise, by many draws.
///
/// Source  D. C. Rife, R. R. Boorstyn, IEEE Trans. IT-20(5), 1974; S. M. Kay, Estimation Theory,
///         1993: var A ≥ 2σ²/N, var ω ≥ 24σ²/(A²N(N²-1)), harmonics 2σ²/N each.
#pragma once

#include "analysis/tone.hpp"
#include "tests/analysis/synthesis.hpp"

#include <cmath>
#include <optional>
#include <random>

namespace afterload::analysis::test {

/// A tone of 1 V peak with its second and third harmonic at -60 dB.
struct BoundCase {
    double seconds = 0.2;
    double nominal = 997.0;  ///< Hz; the true tone lies anywhere within half a bin of it
    double off_ppm = 200.0;  ///< and up to so far from what the fit is told
    double snr_db = 60.0;    ///< power of the tone over all noise
    bool hum = false;        ///< mains lines at -60 and -70 dB, off their nominal by up to 0.1 %
    int draws = 600;
    double rate = 48000.0;
};

/// Standard deviations over the bound, and rms stated over rms found.
struct BoundRatio {
    double amplitude = 0.0;
    double frequency = 0.0;
    double third = 0.0;  ///< of the third harmonic's amplitude
    double stated_amplitude = 0.0;
    double stated_frequency = 0.0;
};

/// Nothing where a fit fails.
inline std::optional<BoundRatio> over_bound(const BoundCase& one) {
    std::mt19937_64 engine{
        static_cast<std::uint64_t>(one.snr_db + 1000.0 * one.seconds + one.nominal)};
    std::uniform_real_distribution<double> unit{-1.0, 1.0};
    const double sigma = noise_below(1.0, one.snr_db);
    double amplitude = 0.0;
    double frequency = 0.0;
    double third = 0.0;
    double u_amplitude = 0.0;
    double u_frequency = 0.0;
    for (int draw = 0; draw < one.draws; ++draw) {
        const double told = one.nominal + 0.5 * unit(engine) / one.seconds;
        const double f = told * (1.0 + 1e-6 * one.off_ppm * unit(engine));
        Synthesis record{one.rate, one.seconds};
        record.line(f, 1.0, 3.14 * unit(engine));
        record.line(2.0 * f, 1e-3, 3.14 * unit(engine)).line(3.0 * f, 1e-3, 3.14 * unit(engine));
        if (one.hum) {
            const double mains = 50.0 + 0.05 * unit(engine);
            record.line(mains, 1e-3, unit(engine)).line(2.0 * mains, 3e-4, 3.0 * unit(engine));
        }
        record.noise(sigma, engine());
        ToneFitSettings settings;
        settings.nominal = Hertz{told};
        settings.highest_harmonic = 9;
        if (one.hum) {
            settings.mains = Hertz{50.0};
        }
        const auto fit = fit_tone(record, settings);
        if (!fit) {
            return std::nullopt;
        }
        amplitude += std::pow(fit->fundamental.amplitude - 1.0, 2);
        frequency += std::pow(fit->fundamental.frequency.in<Hertz>() - f, 2);
        third += std::pow(fit->harmonics[1].amplitude - 1e-3, 2);
        u_amplitude += std::pow(fit->fundamental.sigma, 2);
        u_frequency += std::pow(fit->frequency_u_k1, 2);
    }
    const double n = std::round(one.rate * one.seconds);
    const double bound = std::sqrt(2.0 / n) * sigma;
    const double bound_hz = std::sqrt(24.0 / (n * (n * n - 1.0))) * sigma * one.rate / two_pi;
    const auto deviation = [&](double sum) { return std::sqrt(sum / one.draws); };
    return BoundRatio{deviation(amplitude) / bound, deviation(frequency) / bound_hz,
                      deviation(third) / bound, std::sqrt(u_amplitude / amplitude),
                      std::sqrt(u_frequency / frequency)};
}

}  // namespace afterload::analysis::test
