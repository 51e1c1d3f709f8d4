#include "analysis/sweep_clock.hpp"

#include "analysis/tone.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <vector>

namespace afterload::analysis {

namespace {

constexpr double two_pi = 2.0 * std::numbers::pi;
constexpr double one_frequency = 1e-5;  // relative; as recognised in a file
constexpr double settling = 0.2;        // share of a pilot left for the unit to settle
constexpr double ending = 0.05;         // and before its end, for the arrival is not known exactly

/// One pilot as it stands in record and stimulus.
struct Heard {
    double frequency = 0.0;  ///< of the stimulus, Hz
    double ratio = 1.0;      ///< frequency in the record over that in the stimulus
    double ratio_u_k1 = 0.0;
    double turn = 0.0;  ///< phase in the record less that in the stimulus, radians
    double turn_u_k1 = 0.0;
    double middle = 0.0;  ///< place in the stimulus, seconds
};

std::optional<Heard> heard(WaveformView record, WaveformView stimulus, const SweepPilot& pilot,
                           std::int64_t arrival) {
    const double rate = stimulus.rate.frequency().in<Hertz>();
    const double length = pilot.length.in<Seconds>() * rate;
    const auto from =
        static_cast<std::int64_t>(std::ceil(pilot.start.in<Seconds>() * rate + settling * length));
    const auto count = static_cast<std::int64_t>((1.0 - settling - ending) * length);
    if (count < 64 || from < 0 || from + count > static_cast<std::int64_t>(stimulus.volts.size()) ||
        arrival + from < 0 ||
        arrival + from + count > static_cast<std::int64_t>(record.volts.size())) {
        return std::nullopt;
    }
    ToneFitSettings settings;
    settings.nominal = pilot.frequency;
    settings.highest_harmonic = 5;
    const auto size = static_cast<std::size_t>(count);
    const auto played = fit_tone(
        {stimulus.volts.subspan(static_cast<std::size_t>(from), size), stimulus.rate}, settings);
    const auto came = fit_tone(
        {record.volts.subspan(static_cast<std::size_t>(arrival + from), size), record.rate},
        settings);
    if (!played || !came) {
        return std::nullopt;
    }
    Heard pair;
    pair.frequency = played->fundamental.frequency.in<Hertz>();
    pair.ratio = came->fundamental.frequency / played->fundamental.frequency;
    pair.ratio_u_k1 = came->frequency_u_k1 / pair.frequency;
    pair.turn = came->fundamental.phase - played->fundamental.phase;
    pair.turn_u_k1 = came->fundamental.sigma / came->fundamental.amplitude;
    pair.middle = (static_cast<double>(from) + 0.5 * static_cast<double>(count - 1)) / rate;
    return pair;
}

}  // namespace

bool SweepClock::slipped() const {
    return slip && std::abs(*slip) > 0.5 + 5.0 * slip_u_k1;
}

std::optional<SweepClock> sweep_clock(WaveformView record, WaveformView stimulus,
                                      const SweepPlan& plan, std::int64_t arrival) {
    std::vector<Heard> pilots;
    for (const SweepPilot& pilot : plan.pilots) {
        if (const auto pair = heard(record, stimulus, pilot, arrival)) {
            pilots.push_back(*pair);
        }
    }
    if (pilots.empty()) {
        return std::nullopt;
    }
    double weights = 0.0;
    double ratio = 0.0;
    for (const Heard& pilot : pilots) {
        const double u = std::max(pilot.ratio_u_k1, 1e-13);
        weights += 1.0 / (u * u);
        ratio += pilot.ratio / (u * u);
    }
    SweepClock clock;
    clock.offset = ratio / weights - 1.0;
    clock.u_k1 = 1.0 / std::sqrt(weights);
    const double sweep = plan.begin.in<Seconds>();
    for (const Heard& early : pilots) {
        for (const Heard& late : pilots) {
            const bool around = early.middle < sweep && late.middle > sweep;
            if (!around || std::abs(late.frequency / early.frequency - 1.0) > one_frequency) {
                continue;
            }
            const double turns = two_pi * early.frequency * (late.middle - early.middle);
            const double expected = turns * clock.offset;
            const double beyond = std::remainder(late.turn - early.turn - expected, two_pi);
            const double rate = record.rate.frequency().in<Hertz>();
            clock.slip = -beyond / (two_pi * early.frequency) * rate;
            clock.slip_u_k1 = clock.u_k1 * (late.middle - early.middle) * rate;
            clock.offset = (expected + beyond) / turns;
            clock.u_k1 = std::hypot(early.turn_u_k1, late.turn_u_k1) / turns;
            return clock;
        }
    }
    return clock;
}

}  // namespace afterload::analysis
