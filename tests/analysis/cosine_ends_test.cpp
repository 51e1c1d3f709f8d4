#include "analysis/cosine_ends.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

namespace afterload::analysis {
namespace {

// Closed forms against the sums they stand for, term by term.
void expect_sums(std::size_t length, double ends, double a) {
    const CosineEnds weight{length, ends};
    double d = 0.0;
    double e = 0.0;
    double f = 0.0;
    for (std::size_t n = 0; n < length; ++n) {
        const double t = static_cast<double>(n) - 0.5 * static_cast<double>(length - 1);
        const double w = weight.at(n);
        d += w * std::cos(a * t);
        e += w * t * std::sin(a * t);
        f += w * t * t * std::cos(a * t);
    }
    const double size = static_cast<double>(length);
    const CosineEnds::Sums sums = weight.sums(a);
    // Rounding of the direct sums grows like their largest terms.
    EXPECT_NEAR(weight.sum_of_cosine(a), d, 1e-12 * size) << length << " " << ends << " " << a;
    EXPECT_NEAR(sums.d, d, 1e-12 * size);
    EXPECT_NEAR(sums.e, e, 1e-10 * size * size) << length << " " << ends << " " << a;
    EXPECT_NEAR(sums.f, f, 1e-10 * size * size * size) << length << " " << ends << " " << a;
}

TEST(CosineEnds, ClosedFormsAreTheSums) {
    for (const std::size_t length : {64U, 65U, 1000U, 4801U}) {
        for (const double ends : {0.0, 0.1, 0.2, 1.0}) {
            for (const double a : {0.0, 1e-9, 1e-6, 1e-3, 0.02, 0.7, 1.5707963, 3.1, 3.14159, 4.0,
                                   6.0, 6.283, -0.4}) {
                expect_sums(length, ends, a);
            }
        }
    }
}

TEST(CosineEnds, ClosedFormsHoldAtTheEndsOwnPoles) {
    for (const std::size_t length : {640U, 641U}) {
        const double end = std::floor(0.05 * static_cast<double>(length));
        for (const double shift : {-1e-7, 0.0, 1e-7}) {
            expect_sums(length, 0.1, std::numbers::pi / end + shift);
            expect_sums(length, 0.1, 2.0 * std::numbers::pi - std::numbers::pi / end + shift);
        }
    }
}

TEST(CosineEnds, HandfulOfEndSamplesIsNoSpecialCase) {
    for (const std::size_t length : {20U, 21U, 40U, 60U}) {
        for (const double a : {0.0, 0.3, 2.0, 3.14159265358979, 5.5, 6.2}) {
            expect_sums(length, 0.1, a);
        }
    }
}

// Price of the ends in white noise against the bound: 1.9 % and 5.8 % for 5 % ends, 22 % and 53 %
// for a Hann weight; exact sums √(NΣw²)/Σw and √(Σw²t² Σt²)/Σwt².
TEST(CosineEnds, CostWhatTheirSumsSay) {
    struct Price {
        double ends;
        double amplitude;
        double frequency;
    };
    for (const Price& price : {Price{0.0, 1.0, 1.0}, Price{0.1, 1.019, 1.058},
                               Price{0.2, 1.039, 1.118}, Price{1.0, 1.225, 1.531}}) {
        const std::size_t length = 100000;
        const CosineEnds weight{length, price.ends};
        EXPECT_NEAR(std::sqrt(weight.noise_gain()), price.amplitude, 0.0006);
        double wtt = 0.0;
        double tt = 0.0;
        for (std::size_t n = 0; n < length; ++n) {
            const double t = static_cast<double>(n) - 0.5 * static_cast<double>(length - 1);
            wtt += weight.at(n) * t * t;
            tt += t * t;
        }
        EXPECT_NEAR(std::sqrt(weight.frequency_noise() * tt / wtt), price.frequency, 0.0006);
    }
}

}  // namespace
}  // namespace afterload::analysis
