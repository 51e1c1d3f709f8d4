// How many times faster than real time the simulated bench runs: both channels, card and noise
// included, at 48 kHz.

#include "instruments/simulated_world.hpp"

#include <benchmark/benchmark.h>

namespace afterload::instruments {
namespace {

constexpr double seconds_a_turn = 10.0;

void run(benchmark::State& state, const Simulation& simulation, const UnitControls& controls,
         VoltsRms drive, bool load) {
    SimulatedWorld world{simulation};
    world.set_controls(controls);
    world.connect_load(load);
    world.play(tone(Hertz{997.0}, drive, true, true));
    world.advance(Seconds{1.0});
    double seconds = 0.0;
    for (auto _ : state) {
        const Frames frames = frames_in(Seconds{seconds_a_turn}, simulation.rate);
        benchmark::DoNotOptimize(world.record(frames));
        seconds += seconds_a_turn;
    }
    state.counters["x_real_time"] = benchmark::Counter(seconds, benchmark::Counter::kIsRate);
}

void line_direct_at_an_eighth_of_rated(benchmark::State& state) {
    run(state, {}, {}, VoltsRms{0.053}, true);
}
BENCHMARK(line_direct_at_an_eighth_of_rated)->Unit(benchmark::kMillisecond)->UseRealTime();

void line_direct_clipping(benchmark::State& state) {
    run(state, {}, {}, VoltsRms{0.2}, true);
}
BENCHMARK(line_direct_clipping)->Unit(benchmark::kMillisecond)->UseRealTime();

void phono_through_the_tone_stage(benchmark::State& state) {
    UnitControls controls;
    controls.phono = true;
    controls.direct = false;
    controls.bass.position = KnobPosition::maximum;
    run(state, {}, controls, VoltsRms{0.001}, true);
}
BENCHMARK(phono_through_the_tone_stage)->Unit(benchmark::kMillisecond)->UseRealTime();

void line_direct_at_192_khz(benchmark::State& state) {
    Simulation simulation;
    simulation.rate = SampleRate{192000.0};
    run(state, simulation, {}, VoltsRms{0.053}, true);
}
BENCHMARK(line_direct_at_192_khz)->Unit(benchmark::kMillisecond)->UseRealTime();

void muted(benchmark::State& state) {
    run(state, {}, {}, VoltsRms{0.0}, false);
}
BENCHMARK(muted)->Unit(benchmark::kMillisecond)->UseRealTime();

}  // namespace
}  // namespace afterload::instruments

BENCHMARK_MAIN();
