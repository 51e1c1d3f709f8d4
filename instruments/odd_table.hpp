/// An odd function of one variable on a logarithmic grid: fine near zero, where a crossover or a
/// contact film bends, coarse where it is nearly straight.
#pragma once

#include <algorithm>
#include <bit>
#include <cmath>
#include <cstdint>
#include <functional>
#include <vector>

namespace afterload::instruments {

/// f(−x) = −f(x), f(0) = 0. Between grid points it is straight; 64 points an octave of |x| + fine,
/// so that the error is below (1/64)²/8 of the function's curvature on a logarithmic scale.
class OddTable {
public:
    OddTable() : OddTable{[](double) { return 0.0; }, 1.0, 2.0} {}

    /// `function` is asked for rising x from 0 to `largest`; beyond that the table goes straight
    /// on. `fine` is the scale below which the grid is even.
    OddTable(const std::function<double(double)>& function, double fine, double largest);

    [[nodiscard]] double operator()(double x) const {
        const double shifted = std::fabs(x) + offset_;
        const std::size_t cell =
            std::min((std::bit_cast<std::uint64_t>(shifted) >> cell_shift) - first_, last_);
        return std::copysign(1.0, x) * (cells_[cell].base + cells_[cell].slope * shifted);
    }

private:
    struct Cell {
        double base;
        double slope;
    };
    static constexpr unsigned cell_shift = 46;  // 52 bits of mantissa, 6 of them count

    double offset_;
    std::uint64_t first_;
    std::uint64_t last_ = 0;
    std::vector<Cell> cells_;
};

}  // namespace afterload::instruments
