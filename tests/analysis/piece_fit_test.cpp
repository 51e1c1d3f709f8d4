// The fit of a short piece, on every kernel that this processor has.
#include "analysis/piece_fit.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>
#include <random>
#include <vector>

namespace afterload::analysis {
namespace {

constexpr double rate = 48000.0;

double omega(double hertz) {
    return 2.0 * std::numbers::pi * hertz / rate;
}

std::vector<PieceKernel> kernels() {
    std::vector<PieceKernel> all{narrow_piece_kernel()};
    if (has_wide_piece_kernel()) {
        all.push_back(wide_piece_kernel());
    }
    return all;
}

// Two periods at least: of the lengths some are no whole number of four pairs.
constexpr double tones[]{31.5, 100.0, 960.0, 997.0, 3150.0, 5300.0, 6300.0, 19000.0};

TEST(PieceFit, FindsTheLinesThatAPieceIsMadeOf) {
    bool some_tail = false;
    for (const PieceKernel& kernel : kernels()) {
        for (const double hertz : tones) {
            const PieceFit fit{omega(hertz), rate, kernel};
            some_tail = some_tail || fit.length() / 2 % kernel.lanes != 0;
            const double middle = 0.5 * static_cast<double>(fit.length() - 1);
            std::vector<double> x(fit.length());
            for (std::size_t n = 0; n < x.size(); ++n) {
                const double t = static_cast<double>(n) - middle;
                x[n] = 0.25;
                for (int k = 1; k <= fit.lines(); ++k) {
                    x[n] += std::cos(k * omega(hertz) * t + 0.3 * k) / k;
                }
            }
            const Piece piece = fit(x.data(), 100.0);
            SCOPED_TRACE(testing::Message() << hertz << " Hz, " << kernel.lanes << " abreast");
            for (int k = 1; k <= fit.lines(); ++k) {
                const auto line = piece.line[static_cast<std::size_t>(k) - 1];
                EXPECT_NEAR(std::abs(line), 1.0 / k, 1e-9);
                EXPECT_NEAR(std::remainder(std::arg(line) - 0.3 * k, 2.0 * std::numbers::pi), 0.0,
                            1e-8);
            }
            EXPECT_NEAR(piece.mean, 0.25, 1e-9);
            EXPECT_LT(piece.residual, 1e-14);  // a difference of sums near 1, rounded
            EXPECT_FALSE(piece.at_end);
            EXPECT_TRUE(piece.finite);
        }
    }
    EXPECT_TRUE(some_tail || !has_wide_piece_kernel());
}

TEST(PieceFit, SeesTheConvertersEndAndWhatIsNoNumberWhereverItStands) {
    for (const PieceKernel& kernel : kernels()) {
        const PieceFit fit{omega(5300.0), rate, kernel};
        std::vector<double> x(fit.length(), 0.1);
        EXPECT_FALSE(fit(x.data(), 1.0).at_end);
        for (std::size_t n = 0; n < x.size(); ++n) {
            x[n] = -1.0;
            EXPECT_TRUE(fit(x.data(), 1.0).at_end) << n << ", " << kernel.lanes << " abreast";
            x[n] = std::nan("");
            EXPECT_FALSE(fit(x.data(), 1.0).finite) << n << ", " << kernel.lanes << " abreast";
            x[n] = 0.1;
        }
    }
}

TEST(PieceFit, GivesTheSameToRoundingHoweverManyStandAbreast) {
    std::mt19937 draw{5};
    std::normal_distribution<double> noise{0.0, 1.0};
    for (const double hertz : tones) {
        const PieceFit narrow{omega(hertz), rate, narrow_piece_kernel()};
        std::vector<double> x(narrow.length());
        for (double& sample : x) {
            sample = noise(draw);
        }
        const Piece one = narrow(x.data(), 100.0);
        for (const PieceKernel& kernel : kernels()) {
            const PieceFit fit{omega(hertz), rate, kernel};
            const Piece other = fit(x.data(), 100.0);
            ASSERT_EQ(narrow.length(), fit.length());
            for (std::size_t k = 0; k < one.line.size(); ++k) {
                EXPECT_NEAR(std::abs(one.line[k] - other.line[k]), 0.0, 1e-10);
            }
            EXPECT_NEAR(one.residual, other.residual, 1e-10);
        }
    }
}

}  // namespace
}  // namespace afterload::analysis
