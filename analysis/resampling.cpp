#include "analysis/resampling.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <numbers>

namespace afterload::analysis {

namespace {

constexpr std::int64_t reach = 40;  // samples on either side
constexpr std::size_t steps = 512;  // of the table, a sample
constexpr double beta = 9.0;        // side lobes at -90 dB

/// The Kaiser window from its middle outwards, in steps of 1/512 sample.
class WindowTable {
public:
    WindowTable() {
        const double peak = std::cyl_bessel_i(0.0, beta);
        for (std::size_t i = 0; i < table_.size(); ++i) {
            const double x =
                std::min(1.0, static_cast<double>(i) / static_cast<double>(steps) / reach);
            table_[i] = std::cyl_bessel_i(0.0, beta * std::sqrt(1.0 - x * x)) / peak;
        }
    }
    /// 0 <= distance <= reach.
    [[nodiscard]] double at(double distance) const {
        const double place = distance * steps;
        const auto i = static_cast<std::size_t>(place);
        return table_[i] + (place - static_cast<double>(i)) * (table_[i + 1] - table_[i]);
    }

private:
    std::array<double, steps * reach + 2> table_{};
};

}  // namespace

std::vector<double> resampled(std::span<const double> samples, double first, double step,
                              std::size_t count) {
    static const WindowTable window;
    const auto length = static_cast<std::int64_t>(samples.size());
    std::vector<double> out(count, 0.0);
    for (std::size_t n = 0; n < count; ++n) {
        const double place = first + step * static_cast<double>(n);
        const auto nearest = static_cast<std::int64_t>(std::llround(place));
        const double off = place - static_cast<double>(nearest);
        if (off == 0.0) {
            out[n] =
                nearest >= 0 && nearest < length ? samples[static_cast<std::size_t>(nearest)] : 0.0;
            continue;
        }
        const double sine = std::sin(std::numbers::pi * off) / std::numbers::pi;
        const std::int64_t from = std::max<std::int64_t>(nearest - reach + 1, 0);
        const std::int64_t to = std::min<std::int64_t>(nearest + reach - 1, length - 1);
        double sum = 0.0;
        for (std::int64_t k = from; k <= to; ++k) {
            const double distance = off + static_cast<double>(nearest - k);
            const double term =
                samples[static_cast<std::size_t>(k)] * window.at(std::abs(distance)) / distance;
            sum += (nearest - k) % 2 == 0 ? term : -term;
        }
        out[n] = sine * sum;
    }
    return out;
}

}  // namespace afterload::analysis
