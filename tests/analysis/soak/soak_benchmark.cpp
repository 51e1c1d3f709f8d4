// How long a second of stereo takes to be watched. An hour takes 3600 times as much.
#include "tests/analysis/soak/soak_bench.hpp"

#include <benchmark/benchmark.h>

namespace afterload::analysis {
namespace {

using test::a_signal;
using test::a_tone;

constexpr double rate = 48000.0;
constexpr std::size_t block = 4800;
constexpr int blocks = 100;

// Ten seconds that join their own beginning without a seam: sines of whole tenths of a hertz.
struct TenSeconds {
    explicit TenSeconds(bool tone) {
        test::HealthyChannel left{rate, 1};
        test::HealthyChannel right{rate, 2, 20.3, 0.03};
        for (std::size_t n = 0; n < block * blocks; ++n) {
            const double t = static_cast<double>(n) / rate;
            double x = 0.0;
            for (int i = 0; i < (tone ? 1 : 60); ++i) {
                const double f = tone ? 997.0 : std::round(250.0 * std::pow(1.12, i)) / 10.0;
                x += std::sin(2.0 * std::numbers::pi * f * t + 1.3 * i * i) * (tone ? 0.3 : 0.03);
            }
            played.push_back(x);
            heard[0].push_back(left(x));
            heard[1].push_back(right(x));
        }
    }
    std::vector<double> played;
    std::array<std::vector<double>, 2> heard;
};

void watch(benchmark::State& state, bool tone) {
    const TenSeconds ten{tone};
    StimulusWatch watch{test::SoakBench::settings(rate, 60.0), tone ? a_tone(997.0) : a_signal()};
    std::size_t at = 0;
    const auto feed = [&] {
        const auto part = [&](const std::vector<double>& all) {
            return std::span<const double>{all}.subspan(at * block, block);
        };
        const std::vector<std::span<const double>> record{part(ten.heard[0]), part(ten.heard[1])};
        const std::vector<std::span<const double>> stimulus{part(ten.played)};
        watch.feed(record, stimulus);
        at = (at + 1) % blocks;
    };
    for (int i = 0; i < blocks; ++i) {
        feed();  // the reference is learnt
    }
    for ([[maybe_unused]] auto _ : state) {
        for (int i = 0; i < 10; ++i) {
            feed();
        }
        benchmark::DoNotOptimize(watch.take_events());
        benchmark::DoNotOptimize(watch.take_readings());
    }
    state.SetLabel("of stereo at 48 kHz; an hour is 3600 of them");
}

void second_of_a_tone(benchmark::State& state) {
    watch(state, true);
}
void second_of_a_signal(benchmark::State& state) {
    watch(state, false);
}

BENCHMARK(second_of_a_tone)->Unit(benchmark::kMicrosecond);
BENCHMARK(second_of_a_signal)->Unit(benchmark::kMicrosecond);

}  // namespace
}  // namespace afterload::analysis
