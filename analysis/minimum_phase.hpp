/// The phase that a minimum-phase unit of a given magnitude must have, and the delay beyond it.
#pragma once

#include "analysis/quantity.hpp"

#include <complex>
#include <optional>
#include <span>

namespace afterload::analysis {

/// The delay and polarity by which a response differs from that of a minimum-phase unit of the same
/// magnitude.
struct ExcessDelay {
    double samples = 0.0;
    bool inverted = false;
};

/// Fits the delay to the phase between 20 Hz and a fifth of the rate (or what of that is given).
///
/// The minimum phase at one frequency is the integral of the slope of ln|H| over all others,
/// weighted with ln coth(|u|/2)/π, u = ln(Ω/Ω₀). Ω = tan(πf/rate), on which a digital filter is
/// what an analogue one is on ω; the magnitude goes on beyond both ends as straight as it ends.
///
/// Shape   `hertz` rises, at least twenty values over a decade, all within (0, rate/2); none of
///         `response` is 0. The phase may turn by less than half a turn from value to value.
/// Fails   nothing where there are too few values.
/// Source  H. W. Bode, Network Analysis and Feedback Amplifier Design, 1945, chapter XIV.
[[nodiscard]] std::optional<ExcessDelay> excess_delay(
    std::span<const double> hertz, std::span<const std::complex<double>> response, double rate);

}  // namespace afterload::analysis
