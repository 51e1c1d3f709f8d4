/// A short filter that was learnt from what went into a unit and what came out.
#pragma once

#include <cstddef>
#include <span>
#include <vector>

namespace afterload::analysis {

/// y[n] is foretold as Σ taps[k] x[n - k].
struct LearnedFilter {
    std::vector<double> taps;
    /// A filter that gives what `taps` cannot know: where a stimulus holds what they were not
    /// learnt from, y may differ from what is foretold by as much as this makes of x: twice the
    /// bias of ridge regression (Hoerl and Kennard 1970, section 4, from memory).
    std::vector<double> unheard;
};

/// Learns such a filter by least squares, from one stretch after the other.
///
/// A stimulus that holds nothing at some frequencies says nothing about them: what it leaves open
/// is taken to be as at the others, one gain and no more (a pull of `pull` times the power of x
/// towards the best single tap at `middle`).
class FilterLearner {
public:
    /// `middle` < `count`.
    FilterLearner(std::size_t count, std::size_t middle, double pull);

    /// One more stretch, x and y of one length above `count`; what was learnt before counts
    /// `keep` times as much as it did.
    void add(std::span<const double> x, std::span<const double> y, double keep);

    /// Empty taps where x or y hold nothing.
    [[nodiscard]] LearnedFilter filter() const;

private:
    std::size_t count_;
    std::size_t middle_;
    double pull_;
    std::vector<double> products_;  // of x with x, row by row
    std::vector<double> right_;     // of x with y
};

/// Foretells out.size() samples: `x` holds taps.size() - 1 samples more, the older ones first.
void foretell(const LearnedFilter& filter, std::span<const double> x, std::span<double> out);

/// Power of what LearnedFilter::unheard makes of x, summed over its samples; x is as for
/// foretell().
[[nodiscard]] double unheard(const LearnedFilter& filter, std::span<const double> x);

/// By how many samples y stands behind x, and how like they are there.
struct Alignment {
    long lag = 0;
    double likeness = 0.0;  ///< correlation coefficient, signed
};
/// Best |likeness| for lags in [least, most] of y[n] against x[n - lag]; of equals the one nearest
/// to zero. `x` holds samples [x_first, x_first + x.size()) and `y` begins at `y_first`, on one
/// axis; where x is not there it counts as silent.
[[nodiscard]] Alignment align(std::span<const double> x, long x_first, std::span<const double> y,
                              long y_first, long least, long most);

}  // namespace afterload::analysis
