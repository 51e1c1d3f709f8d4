#include "analysis/piece_fit.hpp"

#include "analysis/normal_equations.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace afterload::analysis {
namespace {

constexpr double two_pi = 2.0 * std::numbers::pi;
constexpr std::size_t most_columns = Piece::most_lines + 1;
static_assert(most_columns == PieceSums::most_columns);

// Inverse of a symmetric matrix, column by column; empty when two columns cannot be told apart.
std::vector<double> inverse(const std::vector<double>& matrix, std::size_t size) {
    std::vector<double> result(size * size);
    for (std::size_t column = 0; column < size; ++column) {
        NormalEquations equations{size};
        for (std::size_t r = 0; r < size; ++r) {
            for (std::size_t c = 0; c <= r; ++c) {
                equations.at(r, c) = matrix[r * size + c];
            }
            equations.right(r) = r == column ? 1.0 : 0.0;
        }
        const auto solution = equations.solve();
        if (!solution) {
            return {};
        }
        for (std::size_t r = 0; r < size; ++r) {
            result[r * size + column] = solution->values[r];
        }
    }
    return result;
}

}  // namespace

std::size_t PieceFit::length_for(double omega, double rate_hz) {
    const double cycles = std::max(2.0, std::round(0.0025 * rate_hz * omega / two_pi));
    const auto quarter = static_cast<std::size_t>(std::lround(cycles * two_pi / omega / 4.0));
    return 4 * std::max<std::size_t>(quarter, 8);
}

PieceFit::PieceFit(double omega, double rate_hz)
    : PieceFit{omega, rate_hz,
               has_wide_piece_kernel() ? wide_piece_kernel() : narrow_piece_kernel()} {}

PieceFit::PieceFit(double omega, double rate_hz, const PieceKernel& kernel)
    : kernel_{kernel}, omega_{omega}, half_{length_for(omega, rate_hz) / 2} {
    while (lines_ < Piece::most_lines && (lines_ + 1) * omega_ < 0.9 * std::numbers::pi) {
        ++lines_;
    }
    tabulate(true);
    while (!invert() && lines_ > 1) {
        --lines_;
        tabulate(false);
    }
}

void PieceFit::tabulate(bool curved) {
    columns_ = static_cast<std::size_t>(lines_) + (curved ? 1 : 0);
    table_.assign(kernel_.padded(half_) * 2 * columns_, 0.0);
    const double scale = 1.0 / static_cast<double>(half_);
    for (std::size_t i = 0; i < half_; ++i) {
        const double t = static_cast<double>(i) + 0.5;
        for (std::size_t c = 0; c < columns_; ++c) {
            double* const entry = table_.data() + kernel_.place(i, c, columns_, half_);
            const double angle = static_cast<double>(c + 1) * omega_ * t;
            const bool line = c < static_cast<std::size_t>(lines_);
            entry[0] = line ? std::cos(angle) : t * scale * t * scale;
            entry[kernel_.lanes] = line ? std::sin(angle) : t * scale;
        }
    }
}

bool PieceFit::invert() {
    const std::size_t evens = columns_ + 1;
    std::vector<double> even(evens * evens, 0.0);
    std::vector<double> odd(columns_ * columns_, 0.0);
    for (std::size_t i = 0; i < half_; ++i) {
        const auto entry = [&](std::size_t c) {
            return &table_[kernel_.place(i, c, columns_, half_)];
        };
        const auto even_column = [&](std::size_t c) { return c == 0 ? 1.0 : *entry(c - 1); };
        for (std::size_t a = 0; a < evens; ++a) {
            for (std::size_t b = 0; b < evens; ++b) {
                even[a * evens + b] += 2.0 * even_column(a) * even_column(b);
            }
        }
        for (std::size_t a = 0; a < columns_; ++a) {
            for (std::size_t b = 0; b < columns_; ++b) {
                odd[a * columns_ + b] += 2.0 * entry(a)[kernel_.lanes] * entry(b)[kernel_.lanes];
            }
        }
    }
    even_sum_.assign(even.begin() + 1, even.begin() + static_cast<std::ptrdiff_t>(evens));
    even_inverse_ = inverse(even, evens);
    odd_inverse_ = inverse(odd, columns_);
    return !even_inverse_.empty() && !odd_inverse_.empty();
}

Piece PieceFit::operator()(const double* x, double end) const {
    const PieceSums seen = kernel_.sums(columns_, x, half_, table_.data(), end);
    const std::size_t evens = columns_ + 1;
    std::array<double, most_columns + 1> right{seen.all};
    std::copy_n(seen.even, columns_, right.begin() + 1);
    std::array<double, most_columns + 1> even{};
    double explained = 0.0;
    for (std::size_t a = 0; a < evens; ++a) {
        for (std::size_t b = 0; b < evens; ++b) {
            even[a] += even_inverse_[a * evens + b] * right[b];
        }
        explained += even[a] * right[a];
    }
    Piece piece;
    const auto points = static_cast<double>(length());
    double of_lines = 0.0;
    for (std::size_t a = 0; a < columns_; ++a) {
        double odd = 0.0;
        for (std::size_t b = 0; b < columns_; ++b) {
            odd += odd_inverse_[a * columns_ + b] * seen.odd[b];
        }
        explained += odd * seen.odd[a];
        if (a < static_cast<std::size_t>(lines_)) {
            piece.line[a] = {even[a + 1], -odd};
            of_lines += even[a + 1] * even_sum_[a];
        }
    }
    piece.mean = (seen.all - of_lines) / points;
    piece.residual =
        std::max(0.0, seen.squares - explained) / (points - static_cast<double>(unknowns()));
    piece.at_end = seen.at_end;
    piece.finite = std::isfinite(seen.squares);
    return piece;
}

}  // namespace afterload::analysis
