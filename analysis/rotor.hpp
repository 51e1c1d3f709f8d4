/// Cosine and sine at neighbouring samples, turned on by a rotation instead of computed anew.
///
/// Eight samples stand abreast, two to a machine vector: left to itself the compiler keeps them in
/// memory, which costs more than twice the time. The error grows by about one rounding a turn:
/// start anew every thousand samples where it matters.
#pragma once

#include <array>
#include <cmath>
#include <cstddef>
#include <cstring>

namespace afterload::analysis {

/// Two doubles that are worked on together.
using Pair = double __attribute__((vector_size(2 * sizeof(double))));

inline Pair load(const double* from) {
    Pair pair;
    std::memcpy(&pair, from, sizeof pair);
    return pair;
}
inline void store(double* to, Pair pair) {
    std::memcpy(to, &pair, sizeof pair);
}

class Rotor {
public:
    static constexpr std::size_t pairs = 4;
    static constexpr std::size_t lanes = 2 * pairs;

    /// `omega` in radians a sample.
    explicit Rotor(double omega)
        : omega_{omega},
          step_cosine_{std::cos(omega * static_cast<double>(lanes))},
          step_sine_{std::sin(omega * static_cast<double>(lanes))} {
        for (std::size_t i = 0; i < lanes; ++i) {
            lane_cosine_[i] = std::cos(omega * static_cast<double>(i));
            lane_sine_[i] = std::sin(omega * static_cast<double>(i));
        }
    }
    /// To times t, t + 1, … t + lanes - 1.
    void start(double t) {
        const double c = std::cos(omega_ * t);
        const double s = std::sin(omega_ * t);
        for (std::size_t i = 0; i < pairs; ++i) {
            const Pair lane_cosine = load(&lane_cosine_[2 * i]);
            const Pair lane_sine = load(&lane_sine_[2 * i]);
            cosine[i] = c * lane_cosine - s * lane_sine;
            sine[i] = s * lane_cosine + c * lane_sine;
        }
    }
    /// On by `lanes` samples.
    void turn() {
        for (std::size_t i = 0; i < pairs; ++i) {
            const Pair c = cosine[i] * step_cosine_ - sine[i] * step_sine_;
            sine[i] = sine[i] * step_cosine_ + cosine[i] * step_sine_;
            cosine[i] = c;
        }
    }

    std::array<Pair, pairs> cosine{};
    std::array<Pair, pairs> sine{};

private:
    double omega_;
    double step_cosine_;
    double step_sine_;
    std::array<double, lanes> lane_cosine_{};
    std::array<double, lanes> lane_sine_{};
};

}  // namespace afterload::analysis
