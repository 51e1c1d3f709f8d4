#include "analysis/normal_equations.hpp"

#include <cmath>

namespace afterload::analysis {

NormalEquations::NormalEquations(std::size_t unknowns)
    : matrix_(unknowns * unknowns, 0.0), right_(unknowns, 0.0) {}

std::optional<NormalEquations::Solution> NormalEquations::solve() const {
    constexpr double least_pivot = 1e-14;
    const std::size_t n = unknowns();
    std::vector<double> scale(n);
    for (std::size_t i = 0; i < n; ++i) {
        const double diagonal = matrix_[i * n + i];
        if (!(diagonal > 0.0)) {
            return std::nullopt;
        }
        scale[i] = 1.0 / std::sqrt(diagonal);
    }

    std::vector<double> lower(n * n, 0.0);
    for (std::size_t i = 0; i < n; ++i) {
        for (std::size_t j = 0; j <= i; ++j) {
            double sum = matrix_[i * n + j] * scale[i] * scale[j];
            for (std::size_t k = 0; k < j; ++k) {
                sum -= lower[i * n + k] * lower[j * n + k];
            }
            if (i == j) {
                if (!(sum >= least_pivot)) {
                    return std::nullopt;
                }
                lower[i * n + i] = std::sqrt(sum);
            } else {
                lower[i * n + j] = sum / lower[j * n + j];
            }
        }
    }

    Solution solution{std::vector<double>(n), std::vector<double>(n, 0.0)};
    std::vector<double>& x = solution.values;
    for (std::size_t i = 0; i < n; ++i) {
        double sum = right_[i] * scale[i];
        for (std::size_t k = 0; k < i; ++k) {
            sum -= lower[i * n + k] * x[k];
        }
        x[i] = sum / lower[i * n + i];
    }
    for (std::size_t i = n; i-- > 0;) {
        double sum = x[i];
        for (std::size_t k = i + 1; k < n; ++k) {
            sum -= lower[k * n + i] * x[k];
        }
        x[i] = sum / lower[i * n + i];
    }

    // Column c of the inverse of `lower` adds its squares to the diagonal of the inverse matrix.
    std::vector<double> column(n);
    for (std::size_t c = 0; c < n; ++c) {
        double squares = 0.0;
        for (std::size_t i = c; i < n; ++i) {
            double sum = i == c ? 1.0 : 0.0;
            for (std::size_t k = c; k < i; ++k) {
                sum -= lower[i * n + k] * column[k];
            }
            column[i] = sum / lower[i * n + i];
            squares += column[i] * column[i];
        }
        solution.inverse_diagonal[c] = squares * scale[c] * scale[c];
    }
    for (std::size_t i = 0; i < n; ++i) {
        x[i] *= scale[i];
    }
    return solution;
}

}  // namespace afterload::analysis
