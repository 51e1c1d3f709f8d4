/// Sums of a record against sines: the only part of a fit that touches every sample.
///
/// A record is folded about its middle first: with a symmetric weight a cosine sees only the even
/// part and a sine only the odd one, so half the sines have to be made. They come from a rotation
/// that is started anew, exactly, every thousand samples.
#pragma once

#include "analysis/cosine_ends.hpp"

#include <cstddef>
#include <span>
#include <vector>

namespace afterload::analysis {

/// A weighted record folded about its middle. Entry j belongs to the pair of samples at ±t,
/// t = j + ½ for an even length and j for an odd one.
struct FoldedRecord {
    std::vector<double> even;  ///< w (x(t) + x(-t)); the middle sample of an odd length counts once
    std::vector<double> odd;   ///< w (x(t) - x(-t))
    double first_t = 0.5;
    std::size_t length = 0;
};
[[nodiscard]] FoldedRecord folded(std::span<const double> record, const CosineEnds& weight);

/// The weighted polynomial term w (t/N)^power, folded.
[[nodiscard]] FoldedRecord folded_power(int power, const CosineEnds& weight);

/// Σ w x (t/N)^power.
[[nodiscard]] double power_sum(const FoldedRecord& record, int power);

struct LineSums {
    double cosine = 0.0;    ///< Σ w x cos ωt
    double sine = 0.0;      ///< Σ w x sin ωt
    double t_cosine = 0.0;  ///< Σ w t x cos ωt
    double t_sine = 0.0;    ///< Σ w t x sin ωt
};
/// cosine and sine at `omega` radians a sample.
[[nodiscard]] LineSums line_sums(const FoldedRecord& record, double omega);
/// All four.
[[nodiscard]] LineSums line_sums_with_time(const FoldedRecord& record, double omega);

/// A line cosine · cos ωt + sine · sin ωt about the middle of a record.
struct Line {
    double omega = 0.0;
    double cosine = 0.0;
    double sine = 0.0;
};
/// Takes `lines` and the polynomial Σ dc[p] (t/N)^p off `record`, in place.
void subtract(std::span<double> record, std::span<const Line> lines, std::span<const double> dc);

}  // namespace afterload::analysis
