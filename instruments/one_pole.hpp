/// First-order filters of two interleaved channels, each with its own corner.
#pragma once

#include <array>
#include <span>

namespace afterload::instruments {

/// First-order high-pass: a coupling capacitor. Bilinear, exact at its corner.
class HighPass {
public:
    void set(std::size_t channel, double corner_hertz, double rate_hertz);
    void process(std::span<double> frames);

private:
    std::array<double, 2> pole_{0.0, 0.0};
    std::array<double, 2> scale_{1.0, 1.0};
    std::array<double, 2> last_in_{};
    std::array<double, 2> last_out_{};
};

/// First-order shelf: gain `low` at zero frequency, `high` far above, turning between the two
/// corners.
class Shelf {
public:
    /// H(s) = high · (s + low/high · w) / (s + w), w the pole. Bilinear.
    void set(std::size_t channel, double pole_hertz, double low, double high, double rate_hertz);
    void process(std::span<double> frames);

private:
    std::array<double, 2> now_{1.0, 1.0};
    std::array<double, 2> before_{};
    std::array<double, 2> pole_{};
    std::array<double, 2> state_{};
};

}  // namespace afterload::instruments
