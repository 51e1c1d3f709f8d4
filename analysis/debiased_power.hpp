/// The power of fitted lines together, with the share that noise put there taken off.
#pragma once

#include "analysis/estimate.hpp"

namespace afterload::analysis {

/// Noise alone puts 2σ² on the square of an amplitude whose standard deviation is σ: half on either
/// quadrature. What is left after taking it off scatters with the variance 4A²σ² + 4σ⁴.
class DebiasedPower {
public:
    /// Adds a line of peak `amplitude`, standard deviation `sigma`.
    void add(double amplitude, double sigma);

    [[nodiscard]] double power() const { return power_; }  ///< Σ A² - 2σ²; below 0 by noise alone
    [[nodiscard]] double variance() const;

    /// √power times `scale`; a bound where power is less than twice its own scatter.
    [[nodiscard]] Estimate root(double scale) const;

private:
    /// The largest true power that the reading still allows at two of its scatters.
    [[nodiscard]] double largest_power() const;

    double power_ = 0.0;
    double largest_noise_ = 0.0;  // largest σ²
    double weighted_ = 0.0;       // Σ (A² - 2σ²) σ²
    double noise_ = 0.0;          // Σ σ⁴
};

}  // namespace afterload::analysis
