#include "analysis/harmonic.hpp"
#include "analysis/noise.hpp"
#include "analysis/soundness.hpp"
#include "analysis/swept_response.hpp"
#include "analysis/tone.hpp"
#include "analysis/transform.hpp"
#include "tests/analysis/multitone_bench.hpp"
#include "tests/analysis/swept_capture.hpp"
#include "tests/analysis/synthesis.hpp"

#include <benchmark/benchmark.h>

namespace afterload::analysis {
namespace {

test::Synthesis bench_record(std::int64_t samples) {
    const double rate = samples > 96000 ? 192000.0 : 48000.0;
    test::Synthesis record{rate, static_cast<double>(samples) / rate};
    record.line(997.05, 1.0, 0.3).line(1994.1, 1e-4, 0.2).line(50.01, 1e-3, 0.1);
    record.line(100.02, 3e-4, 0.4).noise(1e-5, 1);
    return record;
}

ToneFitSettings settings(bool mains) {
    ToneFitSettings result;
    result.nominal = Hertz{997.0};
    if (mains) {
        result.mains = Hertz{50.0};
    }
    return result;
}

void transform(benchmark::State& state) {
    const test::Synthesis record = bench_record(state.range(0));
    const RealTransform transform{record.waveform().volts.size()};
    std::vector<std::complex<double>> bins(transform.bins());
    for ([[maybe_unused]] auto _ : state) {
        transform.forward(record.waveform().volts, bins);
        benchmark::DoNotOptimize(bins.data());
    }
}

void fit(benchmark::State& state) {
    const test::Synthesis record = bench_record(state.range(0));
    const ToneFitSettings with = settings(state.range(1) != 0);
    for ([[maybe_unused]] auto _ : state) {
        benchmark::DoNotOptimize(fit_tone(record, with));
    }
}

void band_power_of_residual(benchmark::State& state) {
    const test::Synthesis record = bench_record(state.range(0));
    const auto tone = fit_tone(record, settings(true));
    for ([[maybe_unused]] auto _ : state) {
        benchmark::DoNotOptimize(thd_plus_noise(record, *tone, {}));
    }
}

void soundness(benchmark::State& state) {
    const test::Synthesis record = bench_record(state.range(0));
    Expectation expected;
    expected.tone = Hertz{997.0};
    expected.mains = Hertz{50.0};
    expected.full_scale = VoltsPeak{2.0};
    for ([[maybe_unused]] auto _ : state) {
        benchmark::DoNotOptimize(faults_of(record, expected));
    }
}

/// One channel of the sweep that ships: 2 s at 48 kHz, with two harmonics.
void sweep(benchmark::State& state) {
    test::SweptCapture capture;
    capture.ppm = 50.0;
    std::vector<double> record = capture.recorded();
    capture.bend(record, 0.01, 0.01);
    test::SweptCapture::add_noise(record, 1e-5, 1);
    const Waveform played = capture.played();
    for ([[maybe_unused]] auto _ : state) {
        benchmark::DoNotOptimize(swept_response({record, capture.rate}, played, capture.plan));
    }
}

// Half a second, both channels, one period.
void multitone(benchmark::State& state) {
    MultitoneSettings design;
    design.rate = SampleRate{static_cast<double>(state.range(0))};
    const Multitone tones = design_multitone(design).value();
    const Stimulus stimulus = at_peak(tones, VoltsPeak{1.0}, VoltsPeak{1.0});
    const auto straight = [](std::size_t from, std::size_t to, double) -> std::complex<double> {
        return from == to ? 1.0 : 1e-4;
    };
    test::BenchSignal signal;
    signal.rate = design.rate.frequency().in<Hertz>();
    signal.clock_ppm = 150.0;
    signal.noise = 1e-5;
    signal.mains_hz = 50.013;
    signal.mains = 1e-3;
    const auto record = test::bench_record(stimulus, straight, signal);
    const auto frequencies =
        frequencies_of(described(stimulus, design.period), Seconds{signal.seconds});
    const MultitoneFitSettings with{Hertz{50.0}, 0.1, design.period};
    for ([[maybe_unused]] auto _ : state) {
        benchmark::DoNotOptimize(fit_multitone(test::views(record), frequencies, with));
    }
}

BENCHMARK(multitone)->ArgName("rate")->Arg(48000)->Arg(192000)->Unit(benchmark::kMicrosecond);
BENCHMARK(transform)->Arg(4800)->Arg(48000)->Arg(192000)->Unit(benchmark::kMicrosecond);
BENCHMARK(fit)
    ->ArgNames({"samples", "mains"})
    ->ArgsProduct({{4800, 48000, 192000, 960000}, {0, 1}})
    ->Unit(benchmark::kMicrosecond);
BENCHMARK(band_power_of_residual)
    ->Arg(4800)
    ->Arg(48000)
    ->Arg(192000)
    ->Unit(benchmark::kMicrosecond);
BENCHMARK(soundness)->Arg(9600)->Arg(48000)->Arg(192000)->Unit(benchmark::kMicrosecond);
BENCHMARK(sweep)->Unit(benchmark::kMillisecond);

}  // namespace
}  // namespace afterload::analysis
