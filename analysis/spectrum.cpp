#include "analysis/spectrum.hpp"

#include "analysis/transform.hpp"

#include <algorithm>
#include <cmath>
#include <complex>
#include <numeric>
#include <string>

namespace afterload::analysis {

double Spectrum::density(std::size_t k) const {
    return volts_rms.at(k) / std::sqrt(noise_bandwidth_bins * bin_width.in<Hertz>());
}

Expected<Spectrum> spectrum(WaveformView record, const SpectrumSettings& settings) {
    const std::size_t samples = record.volts.size();
    const auto wanted =
        static_cast<std::size_t>(std::max<std::int64_t>(settings.segment.count(), 0));
    const std::size_t length =
        good_length_at_most(wanted == 0 ? samples : std::min(wanted, samples));
    if (length < 64) {
        return tl::unexpected(FigureFailure{
            FigureFailure::Kind::record_too_short,
            "a spectrum needs 64 samples, the record has " + std::to_string(samples)});
    }

    const std::vector<double> w = window(settings.window, length);
    const double sum = std::accumulate(w.begin(), w.end(), 0.0);
    const double overlap = std::clamp(settings.overlap, 0.0, 0.95);
    const auto hop = std::max<std::size_t>(
        1, static_cast<std::size_t>(std::lround((1.0 - overlap) * static_cast<double>(length))));

    const RealTransform transform{length};
    std::vector<double> piece(length);
    std::vector<std::complex<double>> bins(transform.bins());
    Spectrum result;
    result.volts_rms.assign(transform.bins(), 0.0);
    result.averages = 0;
    for (std::size_t start = 0; start + length <= samples; start += hop) {
        for (std::size_t n = 0; n < length; ++n) {
            piece[n] = w[n] * record.volts[start + n];
        }
        transform.forward(piece, bins);
        for (std::size_t k = 0; k < bins.size(); ++k) {
            result.volts_rms[k] += std::norm(bins[k]);
        }
        ++result.averages;
    }

    for (std::size_t k = 0; k < bins.size(); ++k) {
        const double sides = k == 0 || k + 1 == bins.size() ? 1.0 : 2.0;
        result.volts_rms[k] = std::sqrt(sides * result.volts_rms[k] / result.averages) / sum;
    }
    result.bin_width = record.rate.frequency() / static_cast<double>(length);
    result.noise_bandwidth_bins = noise_bandwidth_bins(settings.window);
    return result;
}

}  // namespace afterload::analysis
