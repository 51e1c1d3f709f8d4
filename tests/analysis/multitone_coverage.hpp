/// Many draws of one bench: how often response, balance and separation lie within U of the truth.
#pragma once

#include "tests/analysis/multitone_bench.hpp"

#include <map>
#include <random>
#include <string>

namespace afterload::analysis::test {

struct MultitoneCoverage {
    int draws = 0;
    std::map<std::string, int> within;

    [[nodiscard]] std::map<std::string, double> shares() const {
        std::map<std::string, double> all;
        for (const auto& [name, count] : within) {
            all[name] = static_cast<double>(count) / draws;
        }
        return all;
    }
};

/// Eight tones a channel in a tenth of a second, so that thousands of draws take seconds: clocks
/// ±200 ppm apart, mains about 50 Hz, crosstalk -60 dB in noise that leaves it readable.
inline MultitoneCoverage multitone_coverage(int draws, std::uint64_t seed) {
    MultitoneSettings settings;
    settings.rate = SampleRate{48000.0};
    settings.period = Seconds{0.1};
    settings.band = Band{Hertz{200.0}, Hertz{20000.0}};
    settings.tones = 8;
    const Multitone multitone = design_multitone(settings).value();
    const Stimulus stimulus = at_peak(multitone, VoltsPeak{1.0}, VoltsPeak{1.0});
    const MultitoneSource source = described(stimulus, settings.period);
    const double right_gain = 0.8;
    const double leak = 1e-3;
    const Path path = [&](std::size_t from, std::size_t to, double) -> std::complex<double> {
        return from != to ? leak : (to == 0 ? 1.0 : right_gain);
    };
    std::mt19937_64 engine{seed};
    std::uniform_real_distribution<double> unit{-1.0, 1.0};
    MultitoneCoverage coverage;
    coverage.draws = draws;
    const auto count = [&](const char* name, double value, double truth, double u_k1) {
        coverage.within[name] += std::abs(value - truth) <= 2.0 * u_k1 ? 1 : 0;
    };
    for (int draw = 0; draw < draws; ++draw) {
        BenchSignal signal;
        signal.seconds = 0.12;
        signal.start = 0.05 * (1.0 + unit(engine));
        signal.clock_ppm = 200.0 * unit(engine);
        signal.noise = 1e-3;
        signal.mains_hz = 50.0 + 0.05 * unit(engine);
        signal.mains = 1e-2;
        signal.seed = engine();
        const std::vector<Waveform> volts = bench_record(stimulus, path, signal);
        const std::vector<WaveformView> record = views(volts);
        const MultitoneFit fit =
            fit_multitone(record, frequencies_of(source, Seconds{signal.seconds}),
                          {Hertz{50.0}, 0.1, settings.period})
                .value();
        const MultitoneRecord m{record, fit, source, std::vector<BenchShare>(2), {}};
        const Alignment alignment = aligned(m);
        const Figure response = multitone_response(m, alignment, 1, Hertz{1000.0});
        const std::size_t last = response.curve->value.size() - 1;
        count("response", response.curve->value[last], 0.0, response.curve->u_k1[last]);
        const Figure gain = multitone_gain(m, alignment, 2, Hertz{1000.0});
        count("gain", gain.value.value_or(99.0), decibels(right_gain), combined(gain.budget));
        const Figure balance = multitone_balance(m, alignment, 1, 2, Hertz{1000.0});
        count("balance", balance.value.value_or(99.0), -decibels(right_gain),
              combined(balance.budget));
        const Figure separation = multitone_separation(m, alignment, 1, 2, Hertz{1000.0});
        count("separation", separation.value.value_or(999.0), -decibels(leak),
              combined(separation.budget));
        count("clock", fit.clock_ppm, signal.clock_ppm, fit.clock_u_k1_ppm);
    }
    return coverage;
}

}  // namespace afterload::analysis::test
