/// Samples brought down to the two bands that a signal is watched in.
#pragma once

#include "analysis/soak/decimator.hpp"

#include <array>
#include <cstddef>
#include <span>
#include <vector>

namespace afterload::analysis {

class ReducedStream {
public:
    /// Halvings that bring `rate_hz` near 6 kHz.
    [[nodiscard]] static std::size_t halvings(double rate_hz);
    static constexpr std::size_t slower_by = 16;

    explicit ReducedStream(double rate_hz);

    /// Takes whole blocks: a multiple of factor() · slower_by samples.
    void feed(std::span<const double> samples);

    /// Goes on as `other` in the upper band and as itself in the slow one.
    void take_fast(const ReducedStream& other);

    [[nodiscard]] std::size_t factor() const { return decimator_.factor(); }
    [[nodiscard]] double fast_delay() const { return decimator_.delay(); }  ///< samples fed
    [[nodiscard]] double slow_delay() const;                                ///< likewise

    std::vector<double> fast;  ///< of the last feed, above 150 Hz
    std::vector<double> slow;  ///< of the last feed, from zero on

private:
    Decimator decimator_;
    Decimator slower_{4};
    std::array<double, 5> high_pass_{};  // b0, b1, b2, a1, a2
    std::array<double, 2> state_{};
    /// What lies where the decimators fold is taken off both bands.
    struct LowPass {
        std::array<double, 4> state{};
        void operator()(std::vector<double>& samples);
    };
    LowPass fast_low_pass_;
    LowPass slow_low_pass_;
};

}  // namespace afterload::analysis
