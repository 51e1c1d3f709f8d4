#include "runner/soak/hands_free_check.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace afterload::runner {

namespace {

/// V rms, mean taken off.
double moving_volts(const Waveform& waveform) {
    double sum = 0.0;
    double squares = 0.0;
    for (const double volts : waveform.volts) {
        sum += volts;
    }
    const double mean = sum / static_cast<double>(waveform.volts.size());
    for (const double volts : waveform.volts) {
        squares += (volts - mean) * (volts - mean);
    }
    return std::sqrt(squares / static_cast<double>(waveform.volts.size()));
}

}  // namespace

analysis::RigChecked hands_free_check(const instruments::Captured& silence, VoltsRms most,
                                      bool stand_in) {
    if (!silence.reported.empty()) {
        return {false, "the card lost samples in a record of silence"};
    }
    for (std::size_t c = 0; c < silence.record.channels.size(); ++c) {
        const auto& samples = silence.record.channels[c];
        const auto [low, high] = std::minmax_element(samples.begin(), samples.end());
        const bool digital_silence = stand_in && !samples.empty() && *low == 0 && *high == 0;
        if (samples.empty() || (*low == *high && !digital_silence)) {
            return {false, fmt::format("channel {} gives one and the same sample", c + 1)};
        }
        const double volts = moving_volts(calibrated(silence.record, c));
        if (volts > most.in<VoltsRms>()) {
            return {false,
                    fmt::format("channel {} reads {:.3g} V with nothing driven", c + 1, volts)};
        }
    }
    return {true, "the card records without a gap, and nothing comes in that is not driven"};
}

}  // namespace afterload::runner
