/// A stream of samples at a fraction of its rate: what a watch over hours can afford to look at.
#pragma once

#include <cstddef>
#include <span>
#include <vector>

namespace afterload::analysis {

/// One halving of the rate through a symmetric half-band filter: every second coefficient is zero.
/// Source  Kaiser's window; Crochiere and Rabiner, Multirate Digital Signal Processing, 1983, 4.
class HalfBand {
public:
    /// 4 · `quarter` - 1 coefficients.
    explicit HalfBand(std::size_t quarter);

    /// Takes an even number of samples, appends half as many to `out`.
    void feed(std::span<const double> in, std::vector<double>& out);
    void reset();

    /// Result n stands at sample 2n - delay() of the upper rate.
    [[nodiscard]] std::size_t delay() const { return 2 * side_.size() - 1; }

private:
    std::vector<double> side_;  // at odd distances from the middle
    std::vector<double> even_;  // history, then the new samples
    std::vector<double> odd_;
};

/// Halvings one behind the other. Samples of the lower rate below 0.33 of it are clean of what was
/// folded, by 48 dB and more; x and y through two equal ones keep what one is to the other.
class Decimator {
public:
    /// `halvings`: 0 passes everything.
    explicit Decimator(std::size_t halvings);

    /// Takes a multiple of factor() samples; the result is valid until the next call.
    std::span<const double> feed(std::span<const double> in);
    void reset();

    [[nodiscard]] std::size_t factor() const { return std::size_t{1} << stages_.size(); }
    /// Result n stands at sample n · factor() - delay() of the upper rate.
    [[nodiscard]] double delay() const;

private:
    std::vector<HalfBand> stages_;
    std::vector<double> a_;
    std::vector<double> b_;
};

}  // namespace afterload::analysis
