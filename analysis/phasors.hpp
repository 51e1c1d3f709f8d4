/// The tone in short pieces of a record: amplitude and phase against time.
#pragma once

#include <complex>
#include <cstddef>
#include <span>
#include <vector>

namespace afterload::analysis {

/// Phasors of `record` at `omega` (radians a sample): entry b is (2/Σw) Σ_m w[m] x[n] e^{-jωn},
/// n = b · hop + m, so a line A cos(ωn + φ) gives A e^{jφ} in every entry. Only whole pieces.
[[nodiscard]] std::vector<std::complex<double>> phasors(std::span<const double> record,
                                                        double omega,
                                                        std::span<const double> weight,
                                                        std::size_t hop);

}  // namespace afterload::analysis
