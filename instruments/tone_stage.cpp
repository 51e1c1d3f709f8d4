#include "instruments/tone_stage.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace afterload::instruments {

namespace {

/// Where a boosting shelf with end gain `end` turns, so that it gives `at` at `hertz`:
/// |H|² = (f² + end²·p²)/(f² + p²) for a bass shelf with pole p; a treble shelf mirrors it.
double pole_over_frequency(double at, double end) {
    return std::sqrt((at * at - 1.0) / (end * end - at * at));
}

/// Decibels wanted at the stated frequency for a knob position.
double wanted(const Knob& knob, double range, double centre_error) {
    switch (knob.position) {
        case KnobPosition::centre:
            return centre_error + knob.decibels;
        case KnobPosition::maximum:
            return range;
        case KnobPosition::minimum:
            return -range;
    }
    return centre_error;
}

double ratio(double decibels) {
    return amplitude_ratio(Gain{decibels}).in<AmplitudeRatio>();
}

}  // namespace

ToneStage::ToneStage(double rate_hertz) : rate_{rate_hertz}, work_(2, 0.0) {}

void ToneStage::set(const UnitParameters& unit, const UnitControls& controls) {
    constexpr double end_over_stated = 1.4;  // the shelf ends 40 % of its decibels further out
    for (std::size_t c = 0; c < 2; ++c) {
        const ChannelParameters& channel = unit.channels[c];
        const double bass =
            wanted(controls.bass, channel.bass_decibels, channel.bass_centre_decibels);
        const double bass_pole =
            100.0 * pole_over_frequency(ratio(std::abs(bass) + 1e-6),
                                        ratio(end_over_stated * (std::abs(bass) + 1e-6)));
        const double bass_end = ratio(end_over_stated * std::abs(bass));
        // A cut is the boost upside down: its pole is the boost's zero.
        if (bass >= 0.0) {
            bass_.set(c, bass_pole, bass_end, 1.0, rate_);
        } else {
            bass_.set(c, bass_pole * bass_end, 1.0 / bass_end, 1.0, rate_);
        }
        const double treble =
            wanted(controls.treble, channel.treble_decibels, channel.treble_centre_decibels);
        const double treble_pole =
            10e3 / pole_over_frequency(ratio(std::abs(treble) + 1e-6),
                                       ratio(end_over_stated * (std::abs(treble) + 1e-6)));
        const double treble_end = ratio(end_over_stated * std::abs(treble));
        if (treble >= 0.0) {
            treble_.set(c, treble_pole, 1.0, treble_end, rate_);
        } else {
            treble_.set(c, treble_pole / treble_end, 1.0, 1.0 / treble_end, rate_);
        }
        const double to_output = unit.rated_peak_volts / (unit.tone_level * std::numbers::sqrt2);
        const double limit =
            std::max(0.01, unit.supply.tone_rail_volts - unit.supply.tone_rail_lost) * to_output;
        limits_.upper[c] = limit;
        limits_.lower[c] = -limit;
    }
}

void ToneStage::process(std::span<double> frames) {
    bass_.process(frames);
    treble_.process(frames);
    work_.resize(2 + frames.size());
    std::copy(frames.begin(), frames.end(), work_.begin() + 2);
    clipper_.process(work_, limits_);
    std::copy_n(work_.begin(), frames.size(), frames.begin());
    std::copy_n(work_.end() - 2, 2, work_.begin());
}

}  // namespace afterload::instruments
