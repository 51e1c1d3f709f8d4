/// A symmetric positive definite system, scaled to unit diagonal and solved by Cholesky's method.
#pragma once

#include <cstddef>
#include <optional>
#include <vector>

namespace afterload::analysis {

class NormalEquations {
public:
    explicit NormalEquations(std::size_t unknowns);

    [[nodiscard]] std::size_t unknowns() const { return right_.size(); }
    /// Entry of the matrix; row >= column, the other half is its mirror.
    double& at(std::size_t row, std::size_t column) { return matrix_[row * unknowns() + column]; }
    double& right(std::size_t row) { return right_[row]; }

    struct Solution {
        std::vector<double> values;
        std::vector<double> inverse_diagonal;  ///< diagonal of the inverse matrix
    };
    /// Nothing when a pivot of the scaled matrix is below 1e-14: two columns cannot be told apart.
    [[nodiscard]] std::optional<Solution> solve() const;

private:
    std::vector<double> matrix_;
    std::vector<double> right_;
};

}  // namespace afterload::analysis
