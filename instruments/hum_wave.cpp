#include "instruments/hum_wave.hpp"

#include <cmath>
#include <numbers>

namespace afterload::instruments {

void HumWave::add(std::size_t multiple, double volts_rms, double radians) {
    for (std::size_t i = 0; i < points_.size(); ++i) {
        const double phase = static_cast<double>(i * multiple) / double{count};
        points_[i] +=
            std::numbers::sqrt2 * volts_rms * std::cos(2.0 * std::numbers::pi * phase + radians);
    }
}

}  // namespace afterload::instruments
