/// One period of a mains hum: lines at whole multiples of the mains frequency, as a table.
#pragma once

#include <array>
#include <cstddef>

namespace afterload::instruments {

class HumWave {
public:
    /// Adds √2 · `volts_rms` · cos(2π · multiple · phase + `radians`).
    void add(std::size_t multiple, double volts_rms, double radians);
    void clear() { points_.fill(0.0); }

    /// Volts at `phase` (0 … 1) of the mains period; straight between 1024 points.
    [[nodiscard]] double at(double phase) const {
        const double place = phase * static_cast<double>(count);
        const auto index = static_cast<std::size_t>(place);
        const double share = place - static_cast<double>(index);
        return points_[index] + share * (points_[index + 1] - points_[index]);
    }

private:
    static constexpr std::size_t count = 1024;
    std::array<double, count + 2> points_{};  ///< the first two stand at the end again
};

}  // namespace afterload::instruments
