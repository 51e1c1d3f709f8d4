#include "analysis/isolated_tone.hpp"

#include "analysis/transform.hpp"

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>
#include <utility>
#include <vector>

namespace afterload::analysis {

IsolatedTone isolated_tone(WaveformView record, Hertz tone, Hertz half_width) {
    IsolatedTone alone;
    alone.waveform.rate = record.rate;
    const double rate = record.rate.frequency().in<Hertz>();
    const std::size_t length = good_length_at_most(record.volts.size());
    const double width = half_width.in<Hertz>();
    const auto ringing = static_cast<std::size_t>(std::ceil(2.0 * rate / std::max(width, 1.0)));
    if (length < 64 || length < 4 * ringing) {
        return alone;
    }
    std::vector<std::complex<double>> bins =
        RealTransform{length}.forward(record.volts.first(length));
    for (std::size_t k = 0; k < bins.size(); ++k) {
        const double f = static_cast<double>(k) * rate / static_cast<double>(length);
        const double away = std::abs(f - tone.in<Hertz>()) / width;
        // Flat over the inner half, a cosine from there to the edge.
        const double fall = std::clamp(2.0 * away - 1.0, 0.0, 1.0);
        bins[k] *= 0.5 + 0.5 * std::cos(std::numbers::pi * fall);
    }
    const std::vector<double> volts = RealTransform{length}.inverse(std::move(bins));
    alone.first = ringing;
    alone.waveform.volts.assign(volts.begin() + static_cast<std::ptrdiff_t>(ringing),
                                volts.end() - static_cast<std::ptrdiff_t>(ringing));
    return alone;
}

}  // namespace afterload::analysis
