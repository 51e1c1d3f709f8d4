#include "analysis/sine_kernel.hpp"

#include "analysis/sine_loops.hpp"

#include <cmath>

namespace afterload::analysis {

SineLine::SineLine(double omega) : omega_{omega} {
    constexpr std::size_t lanes = TurningSines::lanes;
    from_zero_.cosine[0] = 1.0;
    from_zero_.cosine[1] = std::cos(omega);
    from_zero_.sine[1] = std::sin(omega);
    // The others as sums of two angles that are there: a few roundings, and no more sines.
    for (std::size_t i = 2; i < lanes; ++i) {
        const std::size_t a = i / 2;
        const std::size_t b = i - a;
        from_zero_.cosine[i] =
            from_zero_.cosine[a] * from_zero_.cosine[b] - from_zero_.sine[a] * from_zero_.sine[b];
        from_zero_.sine[i] =
            from_zero_.sine[a] * from_zero_.cosine[b] + from_zero_.cosine[a] * from_zero_.sine[b];
    }
    from_zero_.step_cosine = std::cos(omega * static_cast<double>(lanes));
    from_zero_.step_sine = std::sin(omega * static_cast<double>(lanes));
}

TurningSines SineLine::at(double t) const {
    const double c = std::cos(omega_ * t);
    const double s = std::sin(omega_ * t);
    TurningSines out = from_zero_;
    for (std::size_t i = 0; i < TurningSines::lanes; ++i) {
        out.cosine[i] = c * from_zero_.cosine[i] - s * from_zero_.sine[i];
        out.sine[i] = s * from_zero_.cosine[i] + c * from_zero_.sine[i];
    }
    return out;
}

double total(const double (&lanes)[TurningSines::lanes]) {
    double sum = 0.0;
    for (std::size_t i = 0; i < TurningSines::lanes; i += 2) {
        sum += lanes[i] + lanes[i + 1];
    }
    return sum;
}

const SineKernel& narrow_sine_kernel() {
    return loops<2>;
}

bool has_wide_sine_kernel() {
#ifdef AFTERLOAD_WIDE_KERNEL
    return __builtin_cpu_supports("avx2");
#else
    return false;
#endif
}

#ifndef AFTERLOAD_WIDE_KERNEL
const SineKernel& wide_sine_kernel() {
    return narrow_sine_kernel();
}
#endif

const SineKernel& sine_kernel() {
    static const bool wide = has_wide_sine_kernel();
    return wide ? wide_sine_kernel() : narrow_sine_kernel();
}

}  // namespace afterload::analysis
