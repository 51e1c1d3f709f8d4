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
constexpr std::size_t group_columns = 3;

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

// The even and the odd part of a stretch of a piece, about its middle.
struct Halves {
    static constexpr std::size_t most = 256;
    std::array<double, most> even;
    std::array<double, most> odd;
};

// Folds `count` samples either side of the middle, from the i-th on, and adds up what needs no
// table.
void fold(const double* right, const double* left, std::size_t count, double end, Halves& halves,
          Sums& result) {
    Pair all{};
    Pair squares{};
    const Pair limit{end * end, end * end};
    auto past = limit < limit;
    for (std::size_t i = 0; i < count; i += 2) {
        const Pair p = load(right + i);
        const Pair backward = load(left - i);
        const Pair q{backward[1], backward[0]};
        const Pair p_squared = p * p;
        const Pair q_squared = q * q;
        squares += p_squared + q_squared;
        past |= (p_squared >= limit) | (q_squared >= limit);
        const Pair e = p + q;
        all += e;
        store(halves.even.data() + i, e);
        store(halves.odd.data() + i, p - q);
    }
    result.all += both(all);
    result.squares += both(squares);
    result.at_end = result.at_end || past[0] != 0 || past[1] != 0;
}

// A cosine sees only the even part of a piece and a sine only the odd one: half the products. Three
// columns at a time are as many as stay in registers.
template <std::size_t columns>
void project(const Halves& halves, std::size_t count, const double* table, double* even_sums,
             double* odd_sums) {
    std::array<Pair, columns> even{};
    std::array<Pair, columns> odd{};
    for (std::size_t i = 0; i < count; i += 2) {
        const Pair e = load(halves.even.data() + i);
        const Pair o = load(halves.odd.data() + i);
        for (std::size_t c = 0; c < columns; ++c) {
            even[c] += e * load(table + 4 * c);
            odd[c] += o * load(table + 4 * c + 2);
        }
        table += 4 * columns;
    }
    for (std::size_t c = 0; c < columns; ++c) {
        even_sums[c] += both(even[c]);
        odd_sums[c] += both(odd[c]);
    }
}

Sums sums(std::size_t columns, const double* x, std::size_t half, const double* table, double end) {
    Sums result;
    Halves halves;
    for (std::size_t first = 0; first < half; first += Halves::most) {
        const std::size_t count = std::min(Halves::most, half - first);
        fold(x + half + first, x + half - 2 - first, count, end, halves, result);
        for (std::size_t c = 0; c < columns; c += group_columns) {
            const std::size_t width = std::min(group_columns, columns - c);
            const double* const part = table + 2 * (c * half + first * width);
            double* const even = result.even.data() + c;
            double* const odd = result.odd.data() + c;
            switch (width) {
                case 1:
                    project<1>(halves, count, part, even, odd);
                    break;
                case 2:
                    project<2>(halves, count, part, even, odd);
                    break;
                default:
                    project<3>(halves, count, part, even, odd);
            }
        }
    }
    return result;
}

// Where column c of pair i stands in the table: groups of columns one behind the other.
std::size_t place(std::size_t i, std::size_t c, std::size_t columns, std::size_t half) {
    const std::size_t first = c / group_columns * group_columns;
    const std::size_t width = std::min(group_columns, columns - first);
    return 2 * first * half + i / 2 * 4 * width + 4 * (c - first) + i % 2;
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
    const double cycles = std::max(2.0, std::round(0.0025 * rate_hz * omega / two_pi));
    const auto quarter = static_cast<std::size_t>(std::lround(cycles * two_pi / omega / 4.0));
    return 4 * std::max<std::size_t>(quarter, 8);
}

PieceFit::PieceFit(double omega, double rate_hz)
    : omega_{omega}, half_{length_for(omega, rate_hz) / 2} {
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
    table_.resize(half_ * 2 * columns_);
    const double scale = 1.0 / static_cast<double>(half_);
    for (std::size_t i = 0; i < half_; ++i) {
        const double t = static_cast<double>(i) + 0.5;
        for (std::size_t c = 0; c < columns_; ++c) {
            double* const entry = table_.data() + place(i, c, columns_, half_);
            const double angle = static_cast<double>(c + 1) * omega_ * t;
            const bool line = c < static_cast<std::size_t>(lines_);
            entry[0] = line ? std::cos(angle) : t * scale * t * scale;
            entry[2] = line ? std::sin(angle) : t * scale;
        }
    }
}

bool PieceFit::invert() {
    const std::size_t evens = columns_ + 1;
    std::vector<double> even(evens * evens, 0.0);
    std::vector<double> odd(columns_ * columns_, 0.0);
    for (std::size_t i = 0; i < half_; ++i) {
        const auto entry = [&](std::size_t c) { return &table_[place(i, c, columns_, half_)]; };
        const auto even_column = [&](std::size_t c) { return c == 0 ? 1.0 : *entry(c - 1); };
        for (std::size_t a = 0; a < evens; ++a) {
            for (std::size_t b = 0; b < evens; ++b) {
                even[a * evens + b] += 2.0 * even_column(a) * even_column(b);
            }
        }
        for (std::size_t a = 0; a < columns_; ++a) {
            for (std::size_t b = 0; b < columns_; ++b) {
                odd[a * columns_ + b] += 2.0 * entry(a)[2] * entry(b)[2];
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
