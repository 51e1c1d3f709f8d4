#include "instruments/noise_source.hpp"

#include <bit>
#include <cmath>

namespace afterload::instruments {

namespace {

std::uint64_t split_mix(std::uint64_t& state) {
    state += 0x9E3779B97F4A7C15U;
    std::uint64_t z = state;
    z = (z ^ (z >> 30U)) * 0xBF58476D1CE4E5B9U;
    z = (z ^ (z >> 27U)) * 0x94D049BB133111EBU;
    return z ^ (z >> 31U);
}

/// Inverse of the normal distribution function by bisection on erfc: slow, exact, no coefficients.
double normal_quantile(double probability) {
    double low = -9.0;
    double high = 9.0;
    for (int i = 0; i < 60; ++i) {
        const double middle = 0.5 * (low + high);
        (0.5 * std::erfc(-middle / std::sqrt(2.0)) < probability ? low : high) = middle;
    }
    return 0.5 * (low + high);
}

constexpr std::size_t quantiles = 1024;

/// Midpoint quantiles, scaled so that the sum of three has unit variance.
const std::array<float, quantiles>& quantile_table() {
    static const std::array<float, quantiles> table = [] {
        std::array<double, quantiles> exact{};
        double power = 0.0;
        for (std::size_t i = 0; i < quantiles; ++i) {
            exact[i] = normal_quantile((static_cast<double>(i) + 0.5) / double{quantiles});
            power += exact[i] * exact[i];
        }
        const double scale = 1.0 / std::sqrt(3.0 * power / double{quantiles});
        std::array<float, quantiles> scaled{};
        for (std::size_t i = 0; i < quantiles; ++i) {
            scaled[i] = static_cast<float>(scale * exact[i]);
        }
        return scaled;
    }();
    return table;
}

}  // namespace

NoiseSource::NoiseSource(std::uint64_t seed, std::uint64_t stream) : state_{} {
    std::uint64_t mixed = stream;
    std::uint64_t z = seed ^ split_mix(mixed);
    for (std::uint64_t& word : state_) {
        word = split_mix(z);
    }
}

std::uint64_t NoiseSource::bits() {
    const std::uint64_t result = std::rotl(state_[0] + state_[3], 23) + state_[0];
    const std::uint64_t t = state_[1] << 17U;
    state_[2] ^= state_[0];
    state_[3] ^= state_[1];
    state_[1] ^= state_[2];
    state_[0] ^= state_[3];
    state_[2] ^= t;
    state_[3] = std::rotl(state_[3], 45);
    return result;
}

double NoiseSource::uniform() {
    return std::ldexp(static_cast<double>(bits() >> 11U), -53);
}

double NoiseSource::normal() {
    return normal_quantile(std::ldexp(static_cast<double>(bits() >> 11U) + 0.5, -53));
}

double NoiseSource::normal_within(double sigmas) {
    while (true) {
        const double drawn = normal();
        if (std::abs(drawn) <= sigmas) {
            return drawn;
        }
    }
}

void NoiseSource::add_to(std::span<double> samples, std::size_t stride, double sigma) {
    const std::array<float, quantiles>& table = quantile_table();
    const auto pick = [&table](std::uint64_t word) {
        return static_cast<double>(table[word & 1023U]) +
               static_cast<double>(table[(word >> 10U) & 1023U]) +
               static_cast<double>(table[(word >> 20U) & 1023U]);
    };
    std::size_t i = 0;
    for (; i + stride < samples.size(); i += 2 * stride) {
        const std::uint64_t word = bits();
        samples[i] += sigma * pick(word);
        samples[i + stride] += sigma * pick(word >> 32U);
    }
    if (i < samples.size()) {
        samples[i] += sigma * pick(bits());
    }
}

}  // namespace afterload::instruments
