#include "analysis/soak/learned_filter.hpp"

#include "analysis/normal_equations.hpp"
#include "analysis/rotor.hpp"
#include "analysis/transform.hpp"

#include <algorithm>
#include <cmath>
#include <complex>

namespace afterload::analysis {
namespace {

constexpr double sigmas = 2.0;

double product(std::span<const double> a, std::span<const double> b) {
    Pair sum[2] = {{0.0, 0.0}, {0.0, 0.0}};
    std::size_t i = 0;
    for (; i + 4 <= a.size(); i += 4) {
        sum[0] += load(a.data() + i) * load(b.data() + i);
        sum[1] += load(a.data() + i + 2) * load(b.data() + i + 2);
    }
    double all = sum[0][0] + sum[0][1] + sum[1][0] + sum[1][1];
    for (; i < a.size(); ++i) {
        all += a[i] * b[i];
    }
    return all;
}

// x holds taps.size() - 1 samples more than `out`, the older ones first.
void convolve(std::span<const double> taps, std::span<const double> x, std::span<double> out) {
    std::fill(out.begin(), out.end(), 0.0);
    const std::size_t count = taps.size();
    double* const to = out.data();
    const std::size_t length = out.size();
    for (std::size_t k = 0; k + 3 < count; k += 4) {
        const double a = taps[k];
        const double b = taps[k + 1];
        const double c = taps[k + 2];
        const double d = taps[k + 3];
        const double* const from = x.data() + (count - 4 - k);
        for (std::size_t n = 0; n < length; ++n) {
            to[n] += (a * from[n + 3] + b * from[n + 2]) + (c * from[n + 1] + d * from[n]);
        }
    }
    for (std::size_t k = count / 4 * 4; k < count; ++k) {
        const double* const from = x.data() + (count - 1 - k);
        for (std::size_t n = 0; n < length; ++n) {
            to[n] += taps[k] * from[n];
        }
    }
}

}  // namespace

FilterLearner::FilterLearner(std::size_t count, std::size_t middle, double pull)
    : count_{count},
      middle_{middle},
      pull_{pull},
      products_(count * count, 0.0),
      right_(count, 0.0) {}

void FilterLearner::add(std::span<const double> x, std::span<const double> y, double keep) {
    const std::size_t first = count_ - 1;
    const std::size_t rows = x.size() - first;
    const std::span<const double> wanted = y.subspan(first);
    const auto delayed = [&](std::size_t k) { return x.subspan(first - k, rows); };
    std::vector<double> fresh(count_ * count_, 0.0);
    // Each entry follows from its neighbour up the diagonal: one sample comes in, one goes.
    for (std::size_t r = 0; r < count_; ++r) {
        fresh[r * count_] = product(delayed(r), delayed(0));
        right_[r] = keep * right_[r] + product(delayed(r), wanted);
    }
    for (std::size_t r = 1; r < count_; ++r) {
        for (std::size_t c = 1; c <= r; ++c) {
            fresh[r * count_ + c] = fresh[(r - 1) * count_ + c - 1] + x[first - r] * x[first - c] -
                                    x[x.size() - r] * x[x.size() - c];
        }
    }
    for (std::size_t i = 0; i < fresh.size(); ++i) {
        products_[i] = keep * products_[i] + fresh[i];
    }
}

LearnedFilter FilterLearner::filter() const {
    const double power = products_[0];
    const double at_middle = products_[middle_ * count_ + middle_];
    const double gain = at_middle > 0.0 ? right_[middle_] / at_middle : 0.0;
    if (!(power > 0.0) || !std::isfinite(gain) || gain == 0.0) {
        return {};
    }
    NormalEquations equations{count_};
    for (std::size_t r = 0; r < count_; ++r) {
        for (std::size_t c = 0; c <= r; ++c) {
            equations.at(r, c) = products_[r * count_ + c];
        }
        equations.at(r, r) += pull_ * power;
        equations.right(r) = right_[r];
    }
    equations.right(middle_) += pull_ * power * gain;
    const auto solution = equations.solve();
    // What the pull withholds of a single tap: pull · inverse · tap.
    for (std::size_t k = 0; k < count_; ++k) {
        equations.right(k) = k == middle_ ? pull_ * power : 0.0;
    }
    const auto withheld = equations.solve();
    if (!solution || !withheld) {
        return {};
    }
    // One of the size of all taps together stands for what is withheld of them.
    LearnedFilter result{solution->values, withheld->values};
    const double size = sigmas * std::sqrt(product(result.taps, result.taps));
    for (double& tap : result.unheard) {
        tap *= size;
    }
    return result;
}

void foretell(const LearnedFilter& filter, std::span<const double> x, std::span<double> out) {
    convolve(filter.taps, x, out);
}

double unheard(const LearnedFilter& filter, std::span<const double> x) {
    std::vector<double> left(x.size() - (filter.unheard.size() - 1));
    convolve(filter.unheard, x, left);
    return product(left, left);
}

Alignment align(std::span<const double> x, long x_first, std::span<const double> y, long y_first,
                long least, long most) {
    const auto span = static_cast<std::size_t>(most - least);
    const std::size_t window = y.size() + span;
    const std::size_t length = good_length_at_least(window + y.size());
    // x from the earliest sample that any lag asks for.
    const long begin = y_first - most;
    std::vector<double> a(length, 0.0);
    std::vector<double> b(length, 0.0);
    std::vector<double> squares(window + 1, 0.0);
    for (std::size_t i = 0; i < window; ++i) {
        const long at = begin + static_cast<long>(i) - x_first;
        if (at >= 0 && at < static_cast<long>(x.size())) {
            a[i] = x[static_cast<std::size_t>(at)];
        }
        squares[i + 1] = squares[i] + a[i] * a[i];
    }
    std::copy(y.begin(), y.end(), b.begin());
    const RealTransform transform{length};
    auto spectrum = transform.forward(a);
    const auto other = transform.forward(b);
    for (std::size_t k = 0; k < spectrum.size(); ++k) {
        spectrum[k] *= std::conj(other[k]);
    }
    const std::vector<double> sums = transform.inverse(std::move(spectrum));
    const double power = product(y, y);
    Alignment best;
    for (std::size_t i = 0; i <= span; ++i) {
        const double there = squares[i + y.size()] - squares[i];
        const long lag = most - static_cast<long>(i);
        if (!(there > 1e-9 * squares[window]) || !(power > 0.0)) {
            continue;
        }
        const double likeness = sums[i] / std::sqrt(there * power);
        const bool clearly = std::abs(likeness) > 1.001 * std::abs(best.likeness);
        const bool nearer = std::abs(likeness) > 0.999 * std::abs(best.likeness) &&
                            std::abs(lag) < std::abs(best.lag);
        if (clearly || nearer) {
            best = {lag, likeness};
        }
    }
    return best;
}

}  // namespace afterload::analysis
