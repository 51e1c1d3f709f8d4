/// The tone in one short piece of a record, with its harmonics: what a watch computes all the time.
///
/// A piece is at least two whole cycles, near 2.5 ms. Lines, mean, a straight line and a parabola
/// (which is what hum looks like for so short a time) are fitted together by least squares. The
/// tables are made once, so that a piece costs two products a sample and line.
#pragma once

#include "analysis/piece_sums.hpp"

#include <array>
#include <complex>
#include <cstddef>
#include <vector>

namespace afterload::analysis {

/// What one piece holds. Phases are at its middle, (length - 1)/2 samples from its first.
struct Piece {
    static constexpr int most_lines = 5;
    std::array<std::complex<double>, most_lines> line{};  ///< peak volts; tone, 2nd harmonic ...
    double mean = 0.0;                                    ///< volts, the lines' own share taken off
    double residual = 0.0;  ///< mean square of what the fit leaves, V², for the points left over
    bool at_end = false;    ///< a sample reaches the end that was given
    bool finite = true;     ///< no NaN or infinity among the samples
};

class PieceFit {
public:
    /// Samples of a piece for a tone of `omega` radians a sample: whole cycles near 2.5 ms, at
    /// least two, a multiple of four.
    [[nodiscard]] static std::size_t length_for(double omega, double rate_hz);

    /// `omega` in (0, π). Harmonics up to the fifth below 0.9 π are fitted.
    PieceFit(double omega, double rate_hz);
    /// The same by `kernel`; else the widest one that there is here.
    PieceFit(double omega, double rate_hz, const PieceKernel& kernel);

    [[nodiscard]] std::size_t length() const { return 2 * half_; }
    [[nodiscard]] int lines() const { return lines_; }
    [[nodiscard]] double omega() const { return omega_; }
    /// Unknowns of the fit.
    [[nodiscard]] std::size_t unknowns() const { return 1 + 2 * columns_; }

    /// Fits length() samples from `x`. `end`: a magnitude at which a sample is `at_end`.
    [[nodiscard]] Piece operator()(const double* x, double end) const;

private:
    void tabulate(bool curved);
    bool invert();

    PieceKernel kernel_;
    double omega_;
    std::size_t half_;
    int lines_ = 1;
    std::size_t columns_ = 1;           // even ones beside the mean, as many odd ones
    std::vector<double> table_;         // even and odd columns, laid out as the kernel reads them
    std::vector<double> even_inverse_;  // (columns + 1)², the mean first
    std::vector<double> odd_inverse_;   // columns²
    std::vector<double> even_sum_;      // sum of each even column over the piece
};

}  // namespace afterload::analysis
