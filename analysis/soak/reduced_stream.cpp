#include "analysis/soak/reduced_stream.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace afterload::analysis {
namespace {

constexpr double wanted_rate_hz = 6000.0;
constexpr double corner_hz = 150.0;

constexpr double low_pass_share = 0.33;  // of the lower rate: the corner

// Butterworth of fourth order as two sections, through the bilinear transform.
std::array<std::array<double, 5>, 2> low_pass() {
    std::array<std::array<double, 5>, 2> sections{};
    const double k = std::tan(std::numbers::pi * low_pass_share);
    for (std::size_t i = 0; i < 2; ++i) {
        const double damping =
            2.0 * std::cos(std::numbers::pi * (2.0 * static_cast<double>(i) + 1.0) / 8.0);
        const double norm = 1.0 / (1.0 + damping * k + k * k);
        sections[i] = {k * k * norm, 2.0 * k * k * norm, k * k * norm, 2.0 * (k * k - 1.0) * norm,
                       (1.0 - damping * k + k * k) * norm};
    }
    return sections;
}

}  // namespace

void ReducedStream::LowPass::operator()(std::vector<double>& samples) {
    static const auto sections = low_pass();
    for (std::size_t i = 0; i < 2; ++i) {
        const auto [b0, b1, b2, a1, a2] = sections[i];
        double s1 = state[2 * i];
        double s2 = state[2 * i + 1];
        for (double& v : samples) {
            const double y = b0 * v + s1;
            s1 = b1 * v - a1 * y + s2;
            s2 = b2 * v - a2 * y;
            v = y;
        }
        state[2 * i] = s1;
        state[2 * i + 1] = s2;
    }
}

std::size_t ReducedStream::halvings(double rate_hz) {
    return static_cast<std::size_t>(std::max(0.0, std::round(std::log2(rate_hz / wanted_rate_hz))));
}

ReducedStream::ReducedStream(double rate_hz) : decimator_{halvings(rate_hz)} {
    // Butterworth of second order through the bilinear transform.
    const double rate = rate_hz / static_cast<double>(factor());
    const double k = std::tan(std::numbers::pi * corner_hz / rate);
    const double norm = 1.0 / (1.0 + std::numbers::sqrt2 * k + k * k);
    high_pass_ = {norm, -2.0 * norm, norm, 2.0 * (k * k - 1.0) * norm,
                  (1.0 - std::numbers::sqrt2 * k + k * k) * norm};
}

void ReducedStream::feed(std::span<const double> samples) {
    const std::span<const double> reduced = decimator_.feed(samples);
    fast.resize(reduced.size());
    const auto [b0, b1, b2, a1, a2] = high_pass_;
    auto [s1, s2] = state_;
    for (std::size_t n = 0; n < reduced.size(); ++n) {
        const double x = reduced[n];
        const double y = b0 * x + s1;
        s1 = b1 * x - a1 * y + s2;
        s2 = b2 * x - a2 * y;
        fast[n] = y;
    }
    state_ = {s1, s2};
    fast_low_pass_(fast);
    const std::span<const double> slower = slower_.feed(reduced);
    slow.assign(slower.begin(), slower.end());
    slow_low_pass_(slow);
}

void ReducedStream::take_fast(const ReducedStream& other) {
    decimator_ = other.decimator_;
    state_ = other.state_;
    fast_low_pass_ = other.fast_low_pass_;
    fast = other.fast;
}

double ReducedStream::slow_delay() const {
    return decimator_.delay() + static_cast<double>(factor()) * slower_.delay();
}

}  // namespace afterload::analysis
