#include "instruments/half_band.hpp"

#include "instruments/wide.hpp"

#include <algorithm>
#include <cmath>
#include <cstring>
#include <numbers>

namespace afterload::instruments {

namespace {

/// Modified Bessel function of the first kind, order zero, by its power series.
double bessel_i0(double x) {
    double term = 1.0;
    double sum = 1.0;
    for (int k = 1; term > 1e-18 * sum; ++k) {
        term *= (x / (2.0 * k)) * (x / (2.0 * k));
        sum += term;
    }
    return sum;
}

/// out[i] = Σ taps[k] · (line[i + K − 1 − k] + line[i + K + k]) over frames, two channels side by
/// side.
AFTERLOAD_WIDE
void symmetric_sum(const double* line, const double* taps, std::size_t count, double* out,
                   std::size_t frames) {
    std::size_t i = 0;
    for (; i + 8 <= frames; i += 8) {
        Wide sum0{};
        Wide sum1{};
        Wide sum2{};
        Wide sum3{};
        const double* below = line + 2 * (i + count - 1);
        const double* above = line + 2 * (i + count);
        for (std::size_t k = 0; k < count; ++k) {
            const Wide tap{taps[k], taps[k], taps[k], taps[k]};
            Wide b0;
            Wide b1;
            Wide b2;
            Wide b3;
            Wide a0;
            Wide a1;
            Wide a2;
            Wide a3;
            std::memcpy(&b0, below - 2 * k, sizeof b0);
            std::memcpy(&b1, below - 2 * k + 4, sizeof b1);
            std::memcpy(&b2, below - 2 * k + 8, sizeof b2);
            std::memcpy(&b3, below - 2 * k + 12, sizeof b3);
            std::memcpy(&a0, above + 2 * k, sizeof a0);
            std::memcpy(&a1, above + 2 * k + 4, sizeof a1);
            std::memcpy(&a2, above + 2 * k + 8, sizeof a2);
            std::memcpy(&a3, above + 2 * k + 12, sizeof a3);
            sum0 += tap * (b0 + a0);
            sum1 += tap * (b1 + a1);
            sum2 += tap * (b2 + a2);
            sum3 += tap * (b3 + a3);
        }
        std::memcpy(out + 2 * i, &sum0, sizeof sum0);
        std::memcpy(out + 2 * i + 4, &sum1, sizeof sum1);
        std::memcpy(out + 2 * i + 8, &sum2, sizeof sum2);
        std::memcpy(out + 2 * i + 12, &sum3, sizeof sum3);
    }
    for (; i < frames; ++i) {
        for (std::size_t c = 0; c < 2; ++c) {
            double sum = 0.0;
            for (std::size_t k = 0; k < count; ++k) {
                sum +=
                    taps[k] * (line[2 * (i + count - 1 - k) + c] + line[2 * (i + count + k) + c]);
            }
            out[2 * i + c] = sum;
        }
    }
}

/// Room for `frames` new ones after the kept ones.
void make_room(std::vector<double>& line, std::size_t kept, std::size_t frames) {
    if (line.size() < 2 * (kept + frames)) {
        line.resize(2 * (kept + frames));
    }
}

/// Moves the last `kept` frames of kept + `frames` to the front.
void keep_last(std::vector<double>& line, std::size_t kept, std::size_t frames) {
    std::memmove(line.data(), line.data() + 2 * frames, 2 * kept * sizeof(double));
}

}  // namespace

std::vector<double> half_band_taps(double passband, double attenuation_decibels) {
    const double transition = 0.5 - 2.0 * passband;
    const double length = (attenuation_decibels - 7.95) / (14.36 * transition);
    const auto count = static_cast<std::size_t>(std::ceil((length + 2.0) / 4.0));
    const double beta = 0.1102 * (attenuation_decibels - 8.7);
    const auto half = static_cast<double>(2 * count);  // where the window reaches its end
    std::vector<double> taps;
    double sum = 0.0;
    for (std::size_t k = 0; k < count; ++k) {
        const auto distance = static_cast<double>(2 * k + 1);
        const double sinc =
            std::sin(0.5 * std::numbers::pi * distance) / (std::numbers::pi * distance);
        const double at = distance / half;
        taps.push_back(sinc * bessel_i0(beta * std::sqrt(1.0 - at * at)) / bessel_i0(beta));
        sum += 2.0 * taps.back();
    }
    for (double& tap : taps) {
        tap *= 0.5 / sum;  // exactly one at zero frequency
    }
    return taps;
}

RateDoubler::RateDoubler(const std::vector<double>& taps) : taps_{taps} {
    for (double& tap : taps_) {
        tap *= 2.0;
    }
}

void RateDoubler::process(std::span<const double> in, std::span<double> out) {
    const std::size_t count = taps_.size();
    const std::size_t kept = 2 * count - 1;
    const std::size_t frames = in.size() / 2;
    make_room(line_, kept, frames);
    between_.resize(std::max(between_.size(), 2 * frames));
    std::copy(in.begin(), in.end(), line_.begin() + static_cast<std::ptrdiff_t>(2 * kept));
    symmetric_sum(line_.data(), taps_.data(), count, between_.data(), frames);
    const double* whole = line_.data() + 2 * (count - 1);
    for (std::size_t i = 0; i < frames; ++i) {
        std::memcpy(&out[4 * i], whole + 2 * i, 2 * sizeof(double));
        std::memcpy(&out[4 * i + 2], &between_[2 * i], 2 * sizeof(double));
    }
    keep_last(line_, kept, frames);
}

RateHalver::RateHalver(const std::vector<double>& taps) : taps_{taps} {}

void RateHalver::process(std::span<const double> in, std::span<double> out) {
    const std::size_t count = taps_.size();
    const std::size_t kept = 2 * count - 1;
    const std::size_t frames = out.size() / 2;
    make_room(even_, kept, frames);
    make_room(odd_, kept, frames);
    for (std::size_t i = 0; i < frames; ++i) {
        std::memcpy(&even_[2 * (kept + i)], &in[4 * i], 2 * sizeof(double));
        std::memcpy(&odd_[2 * (kept + i)], &in[4 * i + 2], 2 * sizeof(double));
    }
    symmetric_sum(odd_.data(), taps_.data(), count, out.data(), frames);
    const double* centre = even_.data() + 2 * count;
    for (std::size_t i = 0; i < 2 * frames; ++i) {
        out[i] += 0.5 * centre[i];
    }
    keep_last(even_, kept, frames);
    keep_last(odd_, kept, frames);
}

}  // namespace afterload::instruments
