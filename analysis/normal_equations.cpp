#include "analysis/normal_equations.hpp"

#include <cmath>
#include <span>

namespace afterload::analysis {
namespace {

// Column c of the inverse of a lower triangle, from its diagonal on.
void inverse_column(std::span<const double> lower, std::size_t c, std::span<double> column) {
    const std::size_t n = column.size();
    for (std::size_t i = c; i < n; ++i) {
        double sum = i == c ? 1.0 : 0.0;
        for (std::size_t k = c; k < i; ++k) {
            sum -= lower[i * n + k] * column[k];
        }
        column[i] = sum / lower[i * n + i];
    }
}

}  // namespace

NormalEquations::NormalEquations(std::size_t unknowns)
    : matrix_(unknowns * unknowns, 0.0), right_(unknowns, 0.0) {}

std::optional<NormalEquations::Factor> NormalEquations::factor() const {
    constexpr double least_pivot = 1e-14;
    const std::size_t n = unknowns();
    Factor result{std::vector<double>(n * n, 0.0), std::vector<double>(n)};
    auto& [lower, scale] = result;
    for (std::size_t i = 0; i < n; ++i) {
        const double diagonal = matrix_[i * n + i];
        if (!(diagonal > 0.0)) {
            return std::nullopt;
        }
        scale[i] = 1.0 / std::sqrt(diagonal);
    }

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
    return result;
}

std::optional<NormalEquations::Solution> NormalEquations::solve() const {
    const std::optional<Factor> factored = factor();
    if (!factored) {
        return std::nullopt;
    }
    const auto& [lower, scale] = *factored;
    const std::size_t n = unknowns();
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
        inverse_column(lower, c, column);
        double squares = 0.0;
        for (std::size_t i = c; i < n; ++i) {
            squares += column[i] * column[i];
        }
        solution.inverse_diagonal[c] = squares * scale[c] * scale[c];
    }
    for (std::size_t i = 0; i < n; ++i) {
        x[i] *= scale[i];
    }
    return solution;
}

std::optional<std::vector<double>> NormalEquations::inverse() const {
    const std::optional<Factor> factored = factor();
    if (!factored) {
        return std::nullopt;
    }
    const auto& [lower, scale] = *factored;
    const std::size_t n = unknowns();
    std::vector<double> columns(n * n, 0.0);  // of the inverse of `lower`, one after the other
    for (std::size_t c = 0; c < n; ++c) {
        inverse_column(lower, c, std::span{columns}.subspan(c * n, n));
    }
    std::vector<double> result(n * n);
    for (std::size_t r = 0; r < n; ++r) {
        for (std::size_t c = 0; c <= r; ++c) {
            double sum = 0.0;
            for (std::size_t i = r; i < n; ++i) {
                sum += columns[r * n + i] * columns[c * n + i];
            }
            result[r * n + c] = result[c * n + r] = sum * scale[r] * scale[c];
        }
    }
    return result;
}

}  // namespace afterload::analysis
