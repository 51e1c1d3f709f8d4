/// Records of a multitone through a path that is known: gain and delay of each channel, crosstalk,
/// clocks apart, mains, noise.
#pragma once

#include "analysis/measure_multitone.hpp"
#include "analysis/multitone.hpp"
#include "analysis/multitone_fit.hpp"
#include "analysis/multitone_source.hpp"
#include "tests/analysis/synthesis.hpp"

#include <array>
#include <complex>
#include <functional>
#include <vector>

namespace afterload::analysis::test {

/// Transfer from source channel `from` to output `to` (0, 1) at a frequency.
using Path = std::function<std::complex<double>(std::size_t from, std::size_t to, double hertz)>;

struct BenchSignal {
    double rate = 48000.0;
    double seconds = 0.5;
    double start = 0.0;      // of the record in the stimulus, seconds of the stimulus
    double clock_ppm = 0.0;  // the record shows tones so much higher
    double noise = 0.0;      // rms
    double mains_hz = 50.0;
    double mains = 0.0;  // amplitude of the first line; a third of it at twice the frequency
    std::uint64_t seed = 1;
};

/// Both outputs. Closed form: every tone times its transfer, every tone on its own.
inline std::vector<Waveform> bench_record(const Stimulus& stimulus, const Path& path,
                                          const BenchSignal& signal) {
    std::vector<Waveform> outputs;
    for (std::size_t to = 0; to < 2; ++to) {
        Synthesis record{signal.rate, signal.seconds};
        for (std::size_t from = 0; from < 2; ++from) {
            for (const Partial& tone : stimulus.channels[from]) {
                const double f = tone.frequency.in<Hertz>();
                const std::complex<double> transfer = path(from, to, f);
                if (std::abs(transfer) > 0.0) {
                    const double phase =
                        tone.phase.in<Radians>() + std::fmod(f * signal.start, 1.0) * two_pi;
                    record.line(f * (1.0 + 1e-6 * signal.clock_ppm),
                                tone.amplitude.in<VoltsPeak>() * std::abs(transfer),
                                phase + std::arg(transfer));
                }
            }
        }
        if (signal.mains > 0.0) {
            record.line(signal.mains_hz, signal.mains, 0.3 + static_cast<double>(to));
            record.line(2.0 * signal.mains_hz, signal.mains / 3.0, 1.1);
        }
        if (signal.noise > 0.0) {
            record.noise(signal.noise, 2 * signal.seed + to);
        }
        outputs.push_back(record.waveform());
    }
    return outputs;
}

inline std::vector<WaveformView> views(const std::vector<Waveform>& record) {
    return {record.begin(), record.end()};
}

/// A half-second multitone with peaks of 1 V, designed once.
inline const Multitone& usual_multitone() {
    static const Multitone multitone = [] {
        MultitoneSettings settings;
        settings.rate = SampleRate{48000.0};
        return design_multitone(settings).value();
    }();
    return multitone;
}
inline Stimulus usual_stimulus() {
    return at_peak(usual_multitone(), VoltsPeak{1.0}, VoltsPeak{1.0});
}

}  // namespace afterload::analysis::test
