/// A short piece of a record in which its tone stands at another level than around it.
#pragma once

#include <complex>
#include <optional>
#include <span>

namespace afterload::analysis {

struct BriefChange {
    std::size_t first = 0;  ///< first sample of it
    std::size_t end = 0;    ///< first sample behind it
    double ratio = 0.0;     ///< level in it over the level around it, signed
};

/// Where `record` is best told by `ratio` times its tone, which stands around it as `tone` (phasor
/// at the first sample, peak volts): maximum likelihood in white noise, to the sample.
///
/// Nothing when a changed level does not account for most of what happened: noise, a click.
[[nodiscard]] std::optional<BriefChange> brief_change(std::span<const double> record, double omega,
                                                      std::complex<double> tone);

}  // namespace afterload::analysis
