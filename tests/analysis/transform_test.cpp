#include "analysis/transform.hpp"

#include <gtest/gtest.h>

#include <complex>
#include <fftw3.h>
#include <random>
#include <stdexcept>
#include <vector>

namespace afterload::analysis {
namespace {

std::vector<double> noise(std::size_t length) {
    std::mt19937_64 engine{11};
    std::normal_distribution<double> normal;
    std::vector<double> x(length);
    for (double& v : x) {
        v = normal(engine);
    }
    return x;
}

// Outside reference: FFTW, another program with another algorithm.
std::vector<std::complex<double>> fftw(std::vector<double> x) {
    std::vector<std::complex<double>> bins(x.size() / 2 + 1);
    fftw_plan plan =
        fftw_plan_dft_r2c_1d(static_cast<int>(x.size()), x.data(),
                             reinterpret_cast<fftw_complex*>(bins.data()), FFTW_ESTIMATE);
    fftw_execute(plan);
    fftw_destroy_plan(plan);
    return bins;
}

// Both carry rounding of a few 1e-16 of the spectrum's rms, √N.
TEST(Transform, AgreesWithFftwToTheLastDigits) {
    for (const std::size_t length : {2U, 4U, 6U, 10U, 64U, 90U, 750U, 4096U, 9600U, 48000U}) {
        const std::vector<double> x = noise(length);
        const auto expected = fftw(x);
        const auto found = RealTransform{length}.forward(x);
        ASSERT_EQ(found.size(), expected.size());
        const double scale = std::sqrt(static_cast<double>(length));
        for (std::size_t k = 0; k < found.size(); ++k) {
            EXPECT_LT(std::abs(found[k] - expected[k]), 2e-14 * scale)
                << "length " << length << " bin " << k;
        }
    }
}

TEST(Transform, NyquistStandsAtItsOwnPlace) {
    std::vector<double> x(64);
    for (std::size_t n = 0; n < x.size(); ++n) {
        x[n] = 3.0 + (n % 2 == 0 ? 1.0 : -1.0);
    }
    const auto bins = RealTransform{64}.forward(x);
    EXPECT_NEAR(bins[0].real(), 3.0 * 64, 1e-12);
    EXPECT_NEAR(bins[32].real(), 64.0, 1e-12);
    EXPECT_EQ(bins[0].imag(), 0.0);
    EXPECT_EQ(bins[32].imag(), 0.0);
}

TEST(Transform, OneObjectGivesTheSameForManyRecords) {
    const RealTransform transform{4800};
    const std::vector<double> x = noise(4800);
    EXPECT_EQ(transform.forward(x), transform.forward(x));
}

TEST(Transform, GoodLengthsAreEvenAndOfTwoThreeAndFive) {
    for (const std::size_t good : {2U, 6U, 10U, 4800U, 48000U, 96000U, 192000U, 65536U}) {
        EXPECT_TRUE(good_length(good)) << good;
    }
    for (const std::size_t bad : {0U, 1U, 3U, 15U, 14U, 8198U, 47999U, 48002U}) {
        EXPECT_FALSE(good_length(bad)) << bad;
    }
}

TEST(Transform, LargestGoodLengthIsFoundAsByTrying) {
    for (std::size_t length = 0; length < 3000; ++length) {
        std::size_t expected = length;
        while (expected > 0 && !good_length(expected)) {
            --expected;
        }
        ASSERT_EQ(good_length_at_most(length), expected) << length;
    }
    EXPECT_EQ(good_length_at_most(48001), 48000U);
    EXPECT_EQ(good_length_at_most(8198), 8192U);
}

TEST(Transform, RefusesALengthThatWouldTakeSeconds) {
    EXPECT_THROW(RealTransform{8198}, std::invalid_argument);
    EXPECT_THROW(RealTransform{0}, std::invalid_argument);
    const std::vector<double> x(10);
    EXPECT_THROW((void)RealTransform{12}.forward(x), std::invalid_argument);
}

TEST(Transform, BackAgainIsWhereItBegan) {
    for (const std::size_t length : {2U, 4U, 6U, 90U, 4096U, 48000U}) {
        const std::vector<double> x = noise(length);
        const RealTransform transform{length};
        const std::vector<double> back = transform.inverse(transform.forward(x));
        for (std::size_t n = 0; n < length; ++n) {
            ASSERT_NEAR(back[n], x[n], 1e-13) << "length " << length << " sample " << n;
        }
    }
}

TEST(Transform, TheNextGoodLengthIsGoodAndNotShorter) {
    EXPECT_EQ(good_length_at_least(0), 2U);
    EXPECT_EQ(good_length_at_least(11), 12U);
    EXPECT_EQ(good_length_at_least(12), 12U);
    for (std::size_t length = 1; length < 3000; ++length) {
        const std::size_t found = good_length_at_least(length);
        EXPECT_TRUE(good_length(found)) << length;
        EXPECT_GE(found, length);
        std::size_t nearest = length;
        while (!good_length(nearest)) {
            ++nearest;
        }
        EXPECT_EQ(found, nearest);
    }
}

}  // namespace
}  // namespace afterload::analysis
