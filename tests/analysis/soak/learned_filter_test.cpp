#include "analysis/soak/learned_filter.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <random>
#include <vector>

namespace afterload::analysis {
namespace {

std::vector<double> white(std::size_t count, std::uint64_t seed) {
    std::mt19937_64 engine{seed};
    std::normal_distribution<double> normal{0.0, 1.0};
    std::vector<double> result(count);
    for (double& v : result) {
        v = normal(engine);
    }
    return result;
}

std::vector<double> filtered(const std::vector<double>& x, const std::vector<double>& taps) {
    std::vector<double> y(x.size(), 0.0);
    for (std::size_t n = 0; n < x.size(); ++n) {
        for (std::size_t k = 0; k < taps.size() && k <= n; ++k) {
            y[n] += taps[k] * x[n - k];
        }
    }
    return y;
}

TEST(LearnedFilter, IsTheFilterThatMadeTheRecord) {
    const auto x = white(4000, 1);
    const std::vector<double> truth{0.1, -0.2, 0.5, 2.0, -0.3, 0.05, 0.0, 0.01};
    FilterLearner learner{8, 3, 1e-12};
    learner.add(x, filtered(x, truth), 1.0);
    const LearnedFilter filter = learner.filter();
    ASSERT_EQ(filter.taps.size(), truth.size());
    for (std::size_t k = 0; k < truth.size(); ++k) {
        EXPECT_NEAR(filter.taps[k], truth[k], 1e-9);
    }
    // And foretells what comes next.
    std::vector<double> out(100);
    const auto y = filtered(x, truth);
    foretell(filter, std::span{x}.subspan(1000 - 7, 107), out);
    for (std::size_t n = 0; n < out.size(); ++n) {
        EXPECT_NEAR(out[n], y[1000 + n], 1e-9);
    }
}

TEST(LearnedFilter, TakesWhatAStimulusLeavesOpenToBeOneGain) {
    // A single slow sine says nothing about the rest of the band.
    std::vector<double> x(4000);
    for (std::size_t n = 0; n < x.size(); ++n) {
        x[n] = std::sin(0.05 * static_cast<double>(n));
    }
    std::vector<double> y = x;
    for (double& v : y) {
        v *= 3.0;
    }
    FilterLearner learner{16, 0, 1e-5};
    learner.add(x, y, 1.0);
    const auto other = white(1000, 2);
    std::vector<double> out(900);
    foretell(learner.filter(), std::span{other}.subspan(0, 915), out);
    double xy = 0.0;
    double xx = 0.0;
    for (std::size_t n = 0; n < out.size(); ++n) {
        xy += out[n] * other[n + 15];
        xx += other[n + 15] * other[n + 15];
    }
    EXPECT_NEAR(xy / xx, 3.0, 0.02);
}

TEST(LearnedFilter, FindsTheLagBetweenTwoRecords) {
    const auto x = white(5000, 3);
    for (const long lag : {-40L, 0L, 7L, 300L}) {
        std::vector<double> y(1000);
        for (std::size_t n = 0; n < y.size(); ++n) {
            y[n] = -0.5 * x[static_cast<std::size_t>(2000 + static_cast<long>(n) - lag)];
        }
        const Alignment found = align(x, 0, y, 2000, -50, 400);
        EXPECT_EQ(found.lag, lag);
        EXPECT_NEAR(found.likeness, -1.0, 1e-9);
    }
}

}  // namespace
}  // namespace afterload::analysis
