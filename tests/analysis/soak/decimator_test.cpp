#include "analysis/soak/decimator.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>
#include <vector>

namespace afterload::analysis {
namespace {

// Magnitude of what a sine of `cycles` a sample comes out as.
double passes(double cycles, std::size_t halvings) {
    Decimator decimator{halvings};
    std::vector<double> in(decimator.factor() * 4096);
    for (std::size_t n = 0; n < in.size(); ++n) {
        in[n] = std::sin(2.0 * std::numbers::pi * cycles * static_cast<double>(n));
    }
    const auto out = decimator.feed(in);
    double squares = 0.0;
    for (std::size_t n = 1024; n < out.size(); ++n) {
        squares += out[n] * out[n];
    }
    return std::sqrt(2.0 * squares / static_cast<double>(out.size() - 1024));
}

TEST(Decimator, PassesItsBandAndFoldsNothingOntoIt) {
    // Three halvings: an eighth of the rate. Within 0.3 of that all passes to 0.04 dB
    // ...
    for (const double of_lower_rate : {0.01, 0.1, 0.2, 0.3}) {
        EXPECT_NEAR(passes(of_lower_rate / 8.0, 3), 1.0, 4e-3) << of_lower_rate;
    }
    // ... and what would fold onto 0.3 of it and below is 48 dB down.
    for (const double of_lower_rate : {0.7, 0.9, 1.1, 1.3, 1.8, 2.2, 3.75, 3.95}) {
        EXPECT_LT(passes(of_lower_rate / 8.0, 3), 4e-3) << of_lower_rate;
    }
}

TEST(Decimator, StandsAtTheMomentItSays) {
    // A slow sine keeps its phase when the delay is counted.
    Decimator decimator{3};
    constexpr double cycles = 0.003;
    std::vector<double> in(8 * 2048);
    for (std::size_t n = 0; n < in.size(); ++n) {
        in[n] = std::sin(2.0 * std::numbers::pi * cycles * static_cast<double>(n));
    }
    const auto out = decimator.feed(in);
    for (std::size_t n = 500; n < 600; ++n) {
        const double at = 8.0 * static_cast<double>(n) - decimator.delay();
        EXPECT_NEAR(out[n], std::sin(2.0 * std::numbers::pi * cycles * at), 1e-3);
    }
}

TEST(Decimator, DoesNotMindHowTheSamplesAreCut) {
    std::vector<double> in(8 * 512);
    for (std::size_t n = 0; n < in.size(); ++n) {
        in[n] = std::sin(0.001 * static_cast<double>(n * n % 10007));
    }
    Decimator one{3};
    const auto whole = one.feed(in);
    const std::vector<double> expected(whole.begin(), whole.end());
    Decimator other{3};
    std::vector<double> pieces;
    for (std::size_t first = 0; first < in.size(); first += 64) {
        const auto part = other.feed(std::span{in}.subspan(first, 64));
        pieces.insert(pieces.end(), part.begin(), part.end());
    }
    EXPECT_EQ(pieces, expected);
}

}  // namespace
}  // namespace afterload::analysis
