#include "analysis/waveform.hpp"

#include <cmath>

namespace afterload {

Waveform calibrated(const Record& record, std::size_t index) {
    const double volts_a_step =
        record.calibration.at(index).full_scale.in<VoltsPeak>() / std::ldexp(1.0, record.bits - 1);
    Waveform waveform{{}, record.rate};
    waveform.volts.reserve(record.channels.at(index).size());
    for (const std::int32_t sample : record.channels[index]) {
        waveform.volts.push_back(volts_a_step * sample);
    }
    return waveform;
}

}  // namespace afterload
