#include "analysis/resampling.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <numbers>

namespace afterload::analysis {

namespace {

constexpr std::int64_t reach = 40;       // samples on either side
constexpr std::size_t taps = 2 * reach;  // the first is nought: a whole number of pairs
constexpr int phases = 64;               // of the table, a sample
constexpr double beta = 9.0;             // side lobes at -90 dB

double kaiser(double distance) {
    const double x = std::min(1.0, std::abs(distance) / static_cast<double>(reach));
    return std::cyl_bessel_i(0.0, beta * std::sqrt(1.0 - x * x)) / std::cyl_bessel_i(0.0, beta);
}

double sinc(double x) {
    return x == 0.0 ? 1.0 : std::sin(std::numbers::pi * x) / (std::numbers::pi * x);
}

using Kernel = std::array<double, taps>;

/// What is summed over the samples from nearest - reach on, for a place `phase` / 64 beyond the
/// nearest: from half a sample before it to half a sample behind it, and one step more.
class Kernels {
public:
    Kernels() {
        for (int phase = lowest; phase <= -lowest; ++phase) {
            Kernel& kernel = table_[static_cast<std::size_t>(phase - lowest)];
            const double off = static_cast<double>(phase) / phases;
            for (std::size_t k = 1; k < taps; ++k) {
                const double distance = off + static_cast<double>(reach) - static_cast<double>(k);
                kernel[k] = sinc(distance) * kaiser(distance);
            }
        }
    }
    [[nodiscard]] const Kernel& at(int phase) const {
        return table_[static_cast<std::size_t>(phase - lowest)];
    }

private:
    static constexpr int lowest = -(phases / 2) - 2;
    std::array<Kernel, static_cast<std::size_t>(1 - 2 * lowest)> table_{};
};

/// Σ x·k of four kernels, in pairs that the compiler keeps in one register.
std::array<double, 4> products(const double* x, const std::array<const Kernel*, 4>& kernels) {
    std::array<std::array<double, 2>, 4> sums{};
    for (std::size_t k = 0; k < taps; k += 2) {
        for (std::size_t i = 0; i < 4; ++i) {
            sums[i][0] += x[k] * (*kernels[i])[k];
            sums[i][1] += x[k + 1] * (*kernels[i])[k + 1];
        }
    }
    return {sums[0][0] + sums[0][1], sums[1][0] + sums[1][1], sums[2][0] + sums[2][1],
            sums[3][0] + sums[3][1]};
}

}  // namespace

std::vector<double> resampled(std::span<const double> samples, double first, double step,
                              std::size_t count) {
    static const Kernels kernels;
    const auto length = static_cast<std::int64_t>(samples.size());
    std::vector<double> out(count, 0.0);
    std::array<double, taps> ends{};  // where the record begins or is over
    for (std::size_t n = 0; n < count; ++n) {
        const double place = first + step * static_cast<double>(n);
        const auto nearest = static_cast<std::int64_t>(std::llround(place));
        const double off = place - static_cast<double>(nearest);
        if (off == 0.0) {
            out[n] =
                nearest >= 0 && nearest < length ? samples[static_cast<std::size_t>(nearest)] : 0.0;
            continue;
        }
        const std::int64_t from = nearest - reach;
        const double* x = ends.data();
        if (from >= 0 && from + static_cast<std::int64_t>(taps) <= length) {
            x = &samples[static_cast<std::size_t>(from)];
        } else {
            for (std::size_t k = 0; k < taps; ++k) {
                const std::int64_t at = from + static_cast<std::int64_t>(k);
                ends[k] = at >= 0 && at < length ? samples[static_cast<std::size_t>(at)] : 0.0;
            }
        }
        // Between the kernels of the table by a cubic (Lagrange): 3·10⁻⁸ of a sample at most.
        const double phase = off * phases;
        const int below = static_cast<int>(std::floor(phase));
        const double t = phase - below;
        const std::array<double, 4> sums =
            products(x, {&kernels.at(below - 1), &kernels.at(below), &kernels.at(below + 1),
                         &kernels.at(below + 2)});
        out[n] = sums[0] * (-t * (t - 1.0) * (t - 2.0) / 6.0) +
                 sums[1] * ((t + 1.0) * (t - 1.0) * (t - 2.0) / 2.0) +
                 sums[2] * (-(t + 1.0) * t * (t - 2.0) / 2.0) +
                 sums[3] * ((t + 1.0) * t * (t - 1.0) / 6.0);
    }
    return out;
}

}  // namespace afterload::analysis
