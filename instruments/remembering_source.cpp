#include "instruments/remembering_source.hpp"

#include "analysis/level.hpp"

#include <algorithm>
#include <cmath>

namespace afterload::instruments {
namespace {

VoltsRms loudest(const Stimulus& stimulus) {
    double volts = 0.0;
    for (std::size_t c = 0; c < 2; ++c) {
        double square = 0.0;
        for (const Partial& partial : stimulus.channels[c]) {
            const double rms = rms_of_sine(partial.amplitude).in<VoltsRms>();
            square += rms * rms;
        }
        volts = std::max(volts, std::sqrt(square));
    }
    return VoltsRms{volts};
}

}  // namespace

Task<BenchResult<void>> RememberingSource::play(Stimulus stimulus) {
    const VoltsRms drive = loudest(stimulus);
    auto played = co_await source_->play(std::move(stimulus));
    if (played) {
        drive_ = drive;
    }
    co_return played;
}

Task<BenchResult<void>> RememberingSource::mute() {
    auto muted = co_await source_->mute();
    if (muted) {
        drive_ = VoltsRms{0.0};
    }
    co_return muted;
}

}  // namespace afterload::instruments
