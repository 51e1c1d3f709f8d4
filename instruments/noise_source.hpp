/// Random numbers of the simulated bench: the same seed gives the same numbers with every library.
#pragma once

#include <array>
#include <cstdint>
#include <span>

namespace afterload::instruments {

/// A stream of random numbers. Streams with different names from one seed are independent.
///
/// Source  D. Blackman and S. Vigna, "Scrambled linear pseudorandom number generators" (2021):
///         xoshiro256++, seeded through SplitMix64.
class NoiseSource {
public:
    NoiseSource(std::uint64_t seed, std::uint64_t stream);

    [[nodiscard]] std::uint64_t bits();
    /// In [0, 1).
    [[nodiscard]] double uniform();
    /// Normal, mean 0, standard deviation 1: the inverse distribution function of a uniform number.
    /// For drawing parameters, not for samples.
    [[nodiscard]] double normal();
    /// As normal(), cut at ±`sigmas` by drawing again.
    [[nodiscard]] double normal_within(double sigmas);

    /// Adds noise of standard deviation `sigma` to every `stride`-th element of `samples`, from the
    /// first on. White and so close to normal that its kurtosis is off by less than 0.01: each
    /// sample is a sum of three quantiles of 1024.
    void add_to(std::span<double> samples, std::size_t stride, double sigma);

private:
    std::array<std::uint64_t, 4> state_;
};

}  // namespace afterload::instruments
