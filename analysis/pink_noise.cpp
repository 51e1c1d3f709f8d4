#include "analysis/pink_noise.hpp"

#include "analysis/transform.hpp"

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>
#include <stdexcept>

namespace afterload::analysis {

namespace {

constexpr int most_rounds = 400;
constexpr double close_enough = 1.002;  // the last cut may leave so much: it is cut once more

/// SplitMix64 of G. Steele, D. Lea and C. Flood (2014): the same with every library.
double uniform(std::uint64_t& state) {
    state += 0x9E3779B97F4A7C15ULL;
    std::uint64_t z = state;
    z = (z ^ (z >> 30U)) * 0xBF58476D1CE4E5B9ULL;
    z = (z ^ (z >> 27U)) * 0x94D049BB133111EBULL;
    z ^= z >> 31U;
    return static_cast<double>(z >> 11U) * 0x1.0p-53;
}

double largest(const std::vector<double>& samples) {
    double peak = 0.0;
    for (const double sample : samples) {
        peak = std::max(peak, std::abs(sample));
    }
    return peak;
}

double rms_of(const std::vector<double>& samples) {
    double sum = 0.0;
    for (const double sample : samples) {
        sum += sample * sample;
    }
    return std::sqrt(sum / static_cast<double>(samples.size()));
}

}  // namespace

std::vector<double> pink_noise_loop(std::size_t length, SampleRate rate, Band band, double crest,
                                    std::uint64_t seed) {
    const double step = rate.frequency().in<Hertz>() / static_cast<double>(length);
    const double low = band.low.in<Hertz>();
    const double high = band.high.in<Hertz>();
    if (!good_length(length) || !(low > 0.0 && high > low && high < rate.nyquist().in<Hertz>()) ||
        !(crest >= 2.5 && crest <= 6.0)) {
        throw std::invalid_argument("pink noise: length, band or crest out of range");
    }
    const RealTransform transform{length};
    std::vector<double> wanted(transform.bins(), 0.0);
    std::vector<std::complex<double>> spectrum(transform.bins());
    for (std::size_t k = 1; k + 1 < transform.bins(); ++k) {
        const double frequency = step * static_cast<double>(k);
        if (frequency >= low && frequency <= high) {
            wanted[k] = 1.0 / std::sqrt(frequency);
            spectrum[k] = std::polar(wanted[k], 2.0 * std::numbers::pi * uniform(seed));
        }
    }
    std::vector<double> samples = transform.inverse(spectrum);
    for (int round = 0; round < most_rounds; ++round) {
        const double most = crest * rms_of(samples);
        if (largest(samples) <= close_enough * most) {
            break;
        }
        for (double& sample : samples) {
            // A little below: what the spectrum puts back stands out again.
            sample = std::clamp(sample, -0.96 * most, 0.96 * most);
        }
        transform.forward(samples, spectrum);
        for (std::size_t k = 0; k < spectrum.size(); ++k) {
            const double size = std::abs(spectrum[k]);
            spectrum[k] = size > 0.0 ? spectrum[k] * (wanted[k] / size) : wanted[k];
        }
        samples = transform.inverse(spectrum);
    }
    const double most = std::min(largest(samples), crest * rms_of(samples));
    for (double& sample : samples) {
        sample = std::clamp(sample / most, -1.0, 1.0);
    }
    return samples;
}

}  // namespace afterload::analysis
