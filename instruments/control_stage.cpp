#include "instruments/control_stage.hpp"

#include "analysis/level.hpp"

#include <algorithm>

namespace afterload::instruments {

namespace {

// Two equal sections of the first order are 3 dB down where each is 1.5 dB down: at 1.554 times the
// corner of one going down, at 0.644 times going up.
constexpr double section = 0.6436;
constexpr double rumble_hertz = 20.0;
constexpr double subsonic_hertz = 18.0;
constexpr double high_hertz = 7000.0;
constexpr double full_loudness_at = -30.0;  // dB of the volume control
constexpr double loud_bass_decibels = 10.0;
constexpr double loud_bass_hertz = 60.0;
constexpr double loud_treble_decibels = 5.0;
constexpr double loud_treble_hertz = 9000.0;

double ratio(double decibels) {
    return amplitude_ratio(Gain{decibels}).in<AmplitudeRatio>();
}

}  // namespace

ControlStage::ControlStage(double rate_hertz) : rate_{rate_hertz} {
    for (std::size_t c = 0; c < 2; ++c) {
        for (std::size_t i = 0; i < 2; ++i) {
            rumble_filter_[i].set(c, rumble_hertz * section, 0.0, 1.0, rate_);
            subsonic_filter_[i].set(c, subsonic_hertz * section, 0.0, 1.0, rate_);
            high_filter_[i].set(c, high_hertz / section, 1.0, 0.0, rate_);
        }
    }
}

void ControlStage::set(const UnitControls& controls) {
    mono_ = controls.mono;
    loudness_ = controls.loudness;
    rumble_ = controls.rumble_filter;
    high_ = controls.high_filter;
    subsonic_ = controls.subsonic_filter && controls.phono;
    const double depth = std::clamp(controls.volume_decibels / full_loudness_at, 0.0, 1.0);
    for (std::size_t c = 0; c < 2; ++c) {
        loud_bass_.set(c, loud_bass_hertz, ratio(depth * loud_bass_decibels), 1.0, rate_);
        loud_treble_.set(c, loud_treble_hertz, 1.0, ratio(depth * loud_treble_decibels), rate_);
    }
}

void ControlStage::process(std::span<double> frames) {
    if (mono_) {
        for (std::size_t i = 0; i + 1 < frames.size(); i += 2) {
            frames[i] = frames[i + 1] = 0.5 * (frames[i] + frames[i + 1]);
        }
    }
    if (loudness_) {
        loud_bass_.process(frames);
        loud_treble_.process(frames);
    }
    for (std::size_t i = 0; i < 2; ++i) {
        if (rumble_) {
            rumble_filter_[i].process(frames);
        }
        if (high_) {
            high_filter_[i].process(frames);
        }
        if (subsonic_) {
            subsonic_filter_[i].process(frames);
        }
    }
}

}  // namespace afterload::instruments
