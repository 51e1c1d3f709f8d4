/// An odd function of one variable on a logarithmic grid: fine near zero, where a crossover or a
/// contact film bends, coarse where it is nearly straight.
#pragma once

#include <algorithm>
#include <bit>
#include <cstdint>
#include <functional>
#include <vector>

namespace afterload::instruments {

/// f(−x) = −f(x), f(0) = 0. Between grid points it is straight; 64 points an octave of |x| + fine, so
/// that the error is below (1/64)²/8 of the function's curvature on a logarithmic scale.
class OddTable {
public:
    OddTable() : OddTable{[](double) { return 0.0; }, 1.0, 2.0} {}

    /// `function` is asked for rising x from 0 to `largest`; beyond that the table goes straight on.
    /// `fine` is the scale below which the grid is even.
    OddTable(const std::function<double(double)>& function, double fine, double largest);

    [[nodiscard]] double operator()(double x) const {
        constexpr std::uint64_t sign = 0x8000000000000000U;
        const auto bits = std::bit_cast<std::uint64_t>(x);
        const double shifted = std::bit_cast<double>(bits & ~sign) + offset_;
        const std::size_t index =
            std::min(static_cast<std::size_t>((std::bit_cast<std::uint64_t>(shifted) >> cell_shift) -
                                              first_),
                     cells_.size() - 1);
        const Cell& cell = cells_[index];
        const double value = cell.base + cell.slope * shifted;
        return std::bit_cast<double>(std::bit_cast<std::uint64_t>(value) ^ (bits & sign));
    }

private:
    struct Cell {
        double base;
        double slope;
    };
    static constexpr unsigned cell_shift = 46;  // 52 bits of mantissa, 6 of them count

    double offset_;
    std::uint64_t first_;
    std::vector<Cell> cells_;
};

}  // namespace afterload::instruments
