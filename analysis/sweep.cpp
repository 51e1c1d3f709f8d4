#include "analysis/sweep.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace afterload::analysis {

namespace {

constexpr Hertz pilot_frequency{997.0};
constexpr Seconds pilot_length{0.25};
constexpr Seconds pilot_fade{0.02};
constexpr Seconds gap{0.1};   // between a pilot and the sweep
constexpr Seconds tail{0.5};  // six time constants of a coupling corner of 2 Hz
constexpr double below = 0.5;
constexpr double above = 0.49 / 0.45;

}  // namespace

Seconds SweepPlan::passes(Hertz frequency) const {
    return start + std::log(frequency / low) * growth;
}

Seconds SweepPlan::lead(int order) const {
    return std::log(static_cast<double>(order)) * growth;
}

Seconds synchronised_growth(Hertz low, Hertz high, Seconds about) {
    const double cycles = low.in<Hertz>() * about.in<Seconds>() / std::log(high / low);
    return Seconds{std::max(1.0, std::round(cycles)) / low.in<Hertz>()};
}

SweepPlan shipped_sweep_plan(Hertz low, Hertz high, Seconds about) {
    SweepPlan plan;
    plan.band = {low, high};
    plan.low = below * low;
    plan.high = above * high;
    plan.growth = synchronised_growth(plan.low, plan.high, about);
    plan.begin = pilot_length + gap;
    plan.start = plan.begin;
    plan.end = plan.passes(plan.high);
    plan.tail = tail;
    const Seconds steady = pilot_length - 2.0 * pilot_fade;
    const Seconds second = plan.end + tail;
    plan.pilots = {{pilot_frequency, pilot_fade, steady},
                   {pilot_frequency, second + pilot_fade, steady}};
    plan.length = second + pilot_length;
    return plan;
}

Stimulus shipped_sweep(Hertz low, Hertz high, Seconds about, VoltsPeak amplitude, bool left,
                       bool right) {
    const SweepPlan plan = shipped_sweep_plan(low, high, about);
    const Partial pilot{pilot_frequency, amplitude, Radians{-std::numbers::pi / 2}};
    const Sweep sweep{plan.low,
                      plan.high,
                      plan.growth,
                      amplitude,
                      plan.start,
                      0.5 * std::numbers::ln2 * plan.growth,
                      plan.end - plan.passes(high)};
    Stimulus stimulus;
    for (std::size_t c = 0; c < 2; ++c) {
        if (c == 0 ? left : right) {
            stimulus.bursts[c] = {{pilot, Seconds{0.0}, pilot_length, pilot_fade},
                                  {pilot, plan.end + plan.tail, pilot_length, pilot_fade}};
            stimulus.sweeps[c] = {sweep};
        }
    }
    return stimulus;
}

}  // namespace afterload::analysis
