#include "analysis/coverage_factor.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <limits>
#include <numbers>
#include <utility>

namespace afterload::analysis {
namespace {

using testing::DoubleNear;

constexpr double known_well = std::numeric_limits<double>::infinity();

TEST(CoverageFactor, IsThatOfTableG2OfTheGum) {
    // JCGM 100:2008, table G.2, column 95.45 %; the table gives two decimals.
    for (const auto& [freedom, k] : {std::pair{1.0, 13.97},
                                     {2.0, 4.53},
                                     {3.0, 3.31},
                                     {4.0, 2.87},
                                     {5.0, 2.65},
                                     {6.0, 2.52},
                                     {7.0, 2.43},
                                     {8.0, 2.37},
                                     {9.0, 2.32},
                                     {10.0, 2.28},
                                     {15.0, 2.18},
                                     {20.0, 2.13},
                                     {30.0, 2.09},
                                     {50.0, 2.05},
                                     {known_well, 2.0}}) {
        EXPECT_THAT(coverage_factor(freedom), DoubleNear(k, 0.0051)) << freedom;
    }
}

TEST(CoverageFactor, FallsToTwoWithoutAStep) {
    double last = coverage_factor(1.0);
    for (double freedom = 2.0; freedom < 3e4; freedom *= 2.0) {
        const double k = coverage_factor(freedom);
        EXPECT_LT(k, last) << freedom;
        EXPECT_GE(k, 2.0) << freedom;
        last = k;
    }
    EXPECT_THAT(last, DoubleNear(2.0, 3e-4));
}

TEST(CoverageFactor, OfSeveralHoldsTheLargestAsOftenAsTwoHoldsOne) {
    // Šidák: the chance that all of n independent normal deviates stay below k is erf(k/√2)^n.
    for (const int choices : {1, 2, 7, 40, 2000}) {
        const double k = coverage_factor(known_well, choices);
        const double all = std::pow(std::erf(k / std::numbers::sqrt2), choices);
        EXPECT_THAT(all, DoubleNear(std::erf(std::numbers::sqrt2), 1e-9)) << choices;
    }
}

TEST(CoverageFactor, OfOneDegreeOfFreedomIsTheTangentOfCauchysDistribution) {
    // Student's distribution of one degree of freedom: P(|t| < k) = 2/π · atan k.
    const double wanted = std::erf(std::numbers::sqrt2);
    EXPECT_THAT(coverage_factor(1.0), DoubleNear(std::tan(0.5 * std::numbers::pi * wanted), 1e-6));
}

TEST(CoverageFactor, TakesNoMoreFreedomThanThereIs) {
    EXPECT_EQ(coverage_factor(2.9), coverage_factor(2.0));
    EXPECT_EQ(coverage_factor(0.2), coverage_factor(1.0));
}

}  // namespace
}  // namespace afterload::analysis
