/// A capture of the shipped sweep, made from mathematics alone: bent by a polynomial, then filtered
/// by a known recursive filter on a fine time scale.
#pragma once

#include "analysis/stimulus.hpp"
#include "analysis/sweep.hpp"
#include "analysis/waveform.hpp"

#include <cmath>
#include <complex>
#include <cstdint>
#include <numbers>
#include <random>
#include <vector>

namespace afterload::analysis::test {

/// One second-order section at 48 kHz, y[n] = b0 x[n] + … - a2 y[n-2].
struct Section {
    double b0 = 1.0;
    double b1 = 0.0;
    double b2 = 0.0;
    double a1 = 0.0;
    double a2 = 0.0;

    /// Bilinear transform of s²/(s² + s/q + 1) and 1/(s² + s/q + 1).
    static Section high_pass(double hertz, double q) {
        const double k = std::tan(std::numbers::pi * hertz / 48000.0);
        const double n = 1.0 / (1.0 + k / q + k * k);
        return {n, -2.0 * n, n, 2.0 * (k * k - 1.0) * n, (1.0 - k / q + k * k) * n};
    }
    static Section low_pass(double hertz, double q) {
        const double k = std::tan(std::numbers::pi * hertz / 48000.0);
        const double n = 1.0 / (1.0 + k / q + k * k);
        return {k * k * n, 2.0 * k * k * n, k * k * n, 2.0 * (k * k - 1.0) * n,
                (1.0 - k / q + k * k) * n};
    }
    void run(std::vector<double>& samples) const {
        double s1 = 0.0;
        double s2 = 0.0;
        for (double& x : samples) {
            const double y = b0 * x + s1;
            s1 = b1 * x - a1 * y + s2;
            s2 = b2 * x - a2 * y;
            x = y;
        }
    }
    /// At `hertz` of the clock that it runs on, `rate` samples a second.
    [[nodiscard]] std::complex<double> response(double hertz, double rate) const {
        const std::complex<double> z = std::polar(1.0, -2.0 * std::numbers::pi * hertz / rate);
        return (b0 + z * (b1 + z * b2)) / (1.0 + z * (a1 + z * a2));
    }
};

struct SweptCapture {
    SampleRate rate{48000.0};
    double amplitude = 0.5;
    double ppm = 0.0;             ///< how fast the card runs against the source
    std::int64_t arrival = 1234;  ///< whole samples of the card
    double after = 0.2;           ///< seconds recorded after the end
    bool pilots = true;
    SweepPlan plan = shipped_sweep_plan(Hertz{10.0}, Hertz{21600.0}, Seconds{2.0});

    [[nodiscard]] Stimulus stimulus() const {
        Stimulus all = shipped_sweep(Hertz{10.0}, Hertz{21600.0}, Seconds{2.0},
                                     VoltsPeak{amplitude}, true, false);
        if (!pilots) {
            all.bursts = {};
        }
        return all;
    }
    /// As played, on the source's clock.
    [[nodiscard]] Waveform played() const {
        std::vector<double> out(static_cast<std::size_t>(frames_in(plan.length, rate).count()));
        add_samples(stimulus(), 0, rate, 0.0, Frames{0}, out);
        return {out, rate};
    }
    /// As recorded, on the card's, unfiltered.
    [[nodiscard]] std::vector<double> recorded() const {
        const Seconds length = plan.length + Seconds{after};
        std::vector<double> out(
            static_cast<std::size_t>(frames_in(length, rate).count() + arrival));
        add_samples(stimulus(), 0, rate, ppm, Frames{-arrival}, out);
        return out;
    }
    /// What x + second x² + third x³ adds to a unit of unity gain, beside its DC: of the powers of
    /// a sine the harmonics in closed form, each as far as the rate carries it.
    void bend(std::vector<double>& samples, double second, double third) const {
        const Sweep sweep = stimulus().sweeps[0].front();
        const double true_rate = 48000.0 * (1.0 + 1e-6 * ppm);
        const double length = sweep.length().in<Seconds>();
        const double growth = sweep.growth.in<Seconds>();
        for (std::size_t n = 0; n < samples.size(); ++n) {
            const double t =
                static_cast<double>(static_cast<std::int64_t>(n) - arrival) / true_rate -
                sweep.start.in<Seconds>();
            if (t < 0.0 || t > length) {
                continue;
            }
            const double hertz = sweep.low.in<Hertz>() * std::exp(t / growth);
            const double phase = 2.0 * std::numbers::pi * hertz * growth;
            const double fade =
                t < sweep.fade_in.in<Seconds>()
                    ? 0.5 - 0.5 * std::cos(std::numbers::pi * t / sweep.fade_in.in<Seconds>())
                    : 1.0;
            const double a = amplitude * fade;
            // The harmonics fade where the rate ends, so that they end without a click.
            const auto share = [](double f) {
                return f > 23500.0 ? 0.0
                       : f > 22500.0
                           ? 0.5 + 0.5 * std::cos(std::numbers::pi * (f - 22500.0) / 1000.0)
                           : 1.0;
            };
            samples[n] += 0.75 * third * a * a * a * std::sin(phase) * share(hertz) -
                          0.5 * second * a * a * std::cos(2.0 * phase) * share(2.0 * hertz) -
                          0.25 * third * a * a * a * std::sin(3.0 * phase) * share(3.0 * hertz);
        }
    }
    static void add_noise(std::vector<double>& samples, double rms, std::uint64_t seed) {
        std::mt19937_64 engine{seed};
        std::normal_distribution<double> normal{0.0, rms};
        for (double& x : samples) {
            x += normal(engine);
        }
    }
};

}  // namespace afterload::analysis::test
