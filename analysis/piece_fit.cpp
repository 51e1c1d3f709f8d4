#include "analysis/piece_fit.hpp"

#include "analysis/normal_equations.hpp"
#include "analysis/rotor.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace afterload::analysis {
namespace {

constexpr double two_pi = 2.0 * std::numbers::pi;
constexpr std::size_t most_columns = Piece::most_lines + 1;

struct Sums {
    std::array<double, most_columns> even{};
    std::array<double, most_columns> odd{};
    double all = 0.0;
    double squares = 0.0;
    bool at_end = false;
};

inline double both(Pair pair) {
    return pair[0] + pair[1];
}

// A cosine sees only the even part of a piece and a sine only the odd one: half the products.
template <std::size_t columns>
Sums sums(const double* x, std::size_t half, const double* table, double end) {
    std::array<Pair, columns> even{};
    std::array<Pair, columns> odd{};
    Pair all{};
    Pair squares{};
    const double end_squared = end * end;
    const Pair limit{end_squared, end_squared};
    auto past = limit < limit;
    const double* right = x + half;
    const double* left = x + half - 2;
    for (std::size_t i = 0; i < half; i += 2) {
        const Pair p = load(right + i);
        const Pair backward = load(left - i);
        const Pair q{backward[1], backward[0]};
        const Pair p_squared = p * p;
        const Pair q_squared = q * q;
        squares += p_squared + q_squared;
        past |= (p_squared >= limit) | (q_squared >= limit);
        const Pair e = p + q;
        const Pair o = p - q;
        all += e;
        for (std::size_t c = 0; c < columns; ++c) {
            even[c] += e * load(table + 4 * c);
            odd[c] += o * load(table + 4 * c + 2);
        }
        table += 4 * columns;
    }
    Sums result;
    for (std::size_t c = 0; c < columns; ++c) {
        result.even[c] = both(even[c]);
        result.odd[c] = both(odd[c]);
    }
    result.all = both(all);
    result.squares = both(squares);
    result.at_end = past[0] != 0 || past[1] != 0;
    return result;
}

Sums sums(std::size_t columns, const double* x, std::size_t half, const double* table, double end) {
    switch (columns) {
        case 1:
            return sums<1>(x, half, table, end);
        case 2:
            return sums<2>(x, half, table, end);
        case 3:
            return sums<3>(x, half, table, end);
        case 4:
            return sums<4>(x, half, table, end);
        case 5:
            return sums<5>(x, half, table, end);
        default:
            return sums<6>(x, half, table, end);
    }
}

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
    const double cycles = std::max(1.0, std::round(0.0025 * rate_hz * omega / two_pi));
    const auto quarter = static_cast<std::size_t>(std::lround(cycles * two_pi / omega / 4.0));
    return 4 * std::max<std::size_t>(quarter, 8);
}

PieceFit::PieceFit(double omega, double rate_hz)
    : omega_{omega}, half_{length_for(omega, rate_hz) / 2} {
    while (lines_ < Piece::most_lines && (lines_ + 1) * omega_ < 0.9 * std::numbers::pi) {
        ++lines_;
    }
    const double cycles = static_cast<double>(length()) * omega_ / two_pi;
    tabulate(cycles > 1.5);
    while (!invert() && lines_ > 1) {
        --lines_;
        tabulate(false);
    }
}

void PieceFit::tabulate(bool curved) {
    columns_ = static_cast<std::size_t>(lines_) + (curved ? 1 : 0);
    table_.resize(half_ * 2 * columns_);
    const double scale = 1.0 / static_cast<double>(half_);
    for (std::size_t i = 0; i < half_; ++i) {
        const double t = static_cast<double>(i) + 0.5;
        double* const entry = table_.data() + (i / 2) * 4 * columns_ + i % 2;
        for (std::size_t c = 0; c < columns_; ++c) {
            const double angle = static_cast<double>(c + 1) * omega_ * t;
            const bool line = c < static_cast<std::size_t>(lines_);
            entry[4 * c] = line ? std::cos(angle) : t * scale * t * scale;
            entry[4 * c + 2] = line ? std::sin(angle) : t * scale;
        }
    }
}

bool PieceFit::invert() {
    const std::size_t evens = columns_ + 1;
    std::vector<double> even(evens * evens, 0.0);
    std::vector<double> odd(columns_ * columns_, 0.0);
    for (std::size_t i = 0; i < half_; ++i) {
        const double* const entry = table_.data() + (i / 2) * 4 * columns_ + i % 2;
        const auto even_column = [&](std::size_t c) { return c == 0 ? 1.0 : entry[4 * (c - 1)]; };
        for (std::size_t a = 0; a < evens; ++a) {
            for (std::size_t b = 0; b < evens; ++b) {
                even[a * evens + b] += 2.0 * even_column(a) * even_column(b);
            }
        }
        for (std::size_t a = 0; a < columns_; ++a) {
            for (std::size_t b = 0; b < columns_; ++b) {
                odd[a * columns_ + b] += 2.0 * entry[4 * a + 2] * entry[4 * b + 2];
            }
        }
    }
    even_sum_.assign(even.begin() + 1, even.begin() + static_cast<std::ptrdiff_t>(evens));
    even_inverse_ = inverse(even, evens);
    odd_inverse_ = inverse(odd, columns_);
    return !even_inverse_.empty() && !odd_inverse_.empty();
}

Piece PieceFit::operator()(const double* x, double end) const {
    const Sums seen = sums(columns_, x, half_, table_.data(), end);
    const std::size_t evens = columns_ + 1;
    std::array<double, most_columns + 1> right{seen.all};
    std::copy_n(seen.even.begin(), columns_, right.begin() + 1);
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
