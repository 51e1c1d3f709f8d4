#include "analysis/soak/decimator.hpp"

#include <cmath>
#include <numbers>

namespace afterload::analysis {
namespace {

constexpr double kaiser_beta = 5.65;  // 60 dB

// Quarter lengths from the last halving backwards: the earlier ones have all the room there is
// between what is kept and what would fold onto it.
std::size_t quarter_of(std::size_t halvings_behind) {
    constexpr std::size_t last = 16;
    constexpr std::size_t before = 3;
    return halvings_behind == 0 ? last : halvings_behind == 1 ? before : 2;
}

}  // namespace

HalfBand::HalfBand(std::size_t quarter) : side_(quarter) {
    const double half = 2.0 * static_cast<double>(quarter);
    double sum = 0.0;
    for (std::size_t i = 0; i < quarter; ++i) {
        const double t = 2.0 * static_cast<double>(i) + 1.0;
        const double ideal = std::sin(0.5 * std::numbers::pi * t) / (std::numbers::pi * t);
        const double window =
            std::cyl_bessel_i(0.0, kaiser_beta * std::sqrt(1.0 - t * t / (half * half))) /
            std::cyl_bessel_i(0.0, kaiser_beta);
        side_[i] = ideal * window;
        sum += 2.0 * side_[i];
    }
    for (double& c : side_) {
        c *= 0.5 / sum;  // with the middle's half, one at DC
    }
    reset();
}

void HalfBand::reset() {
    even_.assign(2 * side_.size() - 1, 0.0);
    odd_.assign(side_.size(), 0.0);
}

void HalfBand::feed(std::span<const double> in, std::vector<double>& out) {
    const std::size_t count = in.size() / 2;
    const std::size_t kept_even = even_.size();
    const std::size_t kept_odd = odd_.size();
    even_.resize(kept_even + count);
    odd_.resize(kept_odd + count);
    for (std::size_t n = 0; n < count; ++n) {
        even_[kept_even + n] = in[2 * n];
        odd_[kept_odd + n] = in[2 * n + 1];
    }
    const std::size_t first = out.size();
    out.resize(first + count);
    double* const y = out.data() + first;
    const double* const odd = odd_.data();
    for (std::size_t n = 0; n < count; ++n) {
        y[n] = 0.5 * odd[n];
    }
    const std::size_t quarter = side_.size();
    for (std::size_t i = 0; i < quarter; ++i) {
        const double c = side_[i];
        const double* const left = even_.data() + (quarter - 1 - i);
        const double* const right = even_.data() + (quarter + i);
        for (std::size_t n = 0; n < count; ++n) {
            y[n] += c * (left[n] + right[n]);
        }
    }
    even_.erase(even_.begin(), even_.begin() + static_cast<std::ptrdiff_t>(count));
    odd_.erase(odd_.begin(), odd_.begin() + static_cast<std::ptrdiff_t>(count));
}

Decimator::Decimator(std::size_t halvings) {
    for (std::size_t s = 0; s < halvings; ++s) {
        stages_.emplace_back(quarter_of(halvings - 1 - s));
    }
}

std::span<const double> Decimator::feed(std::span<const double> in) {
    std::span<const double> now = in;
    for (std::size_t s = 0; s < stages_.size(); ++s) {
        std::vector<double>& out = s % 2 == 0 ? a_ : b_;
        out.clear();
        stages_[s].feed(now, out);
        now = out;
    }
    return now;
}

void Decimator::reset() {
    for (HalfBand& stage : stages_) {
        stage.reset();
    }
}

double Decimator::delay() const {
    double result = 0.0;
    double spacing = 1.0;
    for (const HalfBand& stage : stages_) {
        result += spacing * static_cast<double>(stage.delay());
        spacing *= 2.0;
    }
    return result;
}

}  // namespace afterload::analysis
