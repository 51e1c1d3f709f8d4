#include "analysis/quiet_record.hpp"

#include "analysis/cosine_ends.hpp"
#include "analysis/line_sums.hpp"
#include "analysis/transform.hpp"
#include "analysis/weighting.hpp"

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>
#include <vector>

namespace afterload::analysis {

namespace {

constexpr double two_pi = 2.0 * std::numbers::pi;

// Relative scatter of the quasi-peak reading over that of the rms of the same Gaussian noise.
constexpr double quasi_peak_scatter = 1.33;

std::optional<Expected<Hum>> hum_of(WaveformView record, std::optional<Hertz> mains) {
    return mains ? std::optional{hum(record, *mains)} : std::nullopt;
}

Waveform without(WaveformView record, const std::optional<Expected<Hum>>& hum) {
    Waveform rest{{record.volts.begin(), record.volts.end()}, record.rate};
    if (hum && *hum) {
        std::vector<Line> lines;
        for (const HumLine& line : (*hum)->lines) {
            lines.push_back({two_pi * (line.fitted.frequency / record.rate.frequency()),
                             line.fitted.amplitude * std::cos(line.fitted.phase),
                             -line.fitted.amplitude * std::sin(line.fitted.phase)});
        }
        subtract(rest.volts, lines, {});
    }
    return rest;
}

bool inside(Hertz frequency, Band band) {
    return frequency >= band.low && frequency <= band.high;
}

/// A few samples have no spectrum: what follows them is silence, and every band asks for more.
Waveform long_enough(Waveform record) {
    constexpr std::size_t fewest = 64;
    record.volts.resize(std::max(record.volts.size(), fewest));
    return record;
}

}  // namespace

QuietRecord::QuietRecord(WaveformView record, std::optional<Hertz> mains)
    : hum_{hum_of(record, mains)}, rest_{long_enough(without(record, hum_))}, periodogram_{rest_} {}

Expected<Estimate> QuietRecord::noise(const NoiseSettings& settings) const {
    if (settings.detector == Detector::quasi_peak) {
        if (settings.weighting != Weighting::itu_r_468) {
            return tl::unexpected(
                FigureFailure{FigureFailure::Kind::out_of_range,
                              "the quasi-peak detector stands behind the weighting ITU-R 468: ask "
                              "for that, or for rms"});
        }
        const Expected<QuasiPeakNoise> noise = quasi_peak_noise(settings.bandwidth);
        return noise.map([](const QuasiPeakNoise& found) { return found.reading; });
    }
    if (auto failure = unfit_for(rest_, settings.bandwidth)) {
        return tl::unexpected(*std::move(failure));
    }
    return rms(settings.bandwidth, settings.weighting);
}

Estimate QuietRecord::rms(Band band, Weighting weighting) const {
    Periodogram::Power power = periodogram_.within(band, weighting);
    if (hum_ && *hum_) {
        for (const HumLine& line : (*hum_)->lines) {
            if (!inside(line.frequency, band)) {
                continue;
            }
            const double gain = weight_of(weighting, line.frequency).in<PowerRatio>();
            const double square = line.fitted.amplitude * line.fitted.amplitude;
            const double noise = line.fitted.sigma * line.fitted.sigma;
            power.value += gain * 0.5 * square;
            power.variance +=
                gain * gain * (std::max(square - 2.0 * noise, 0.0) * noise + noise * noise);
        }
    }
    return power.rms();
}

std::optional<Estimate> QuietRecord::without_mains(const NoiseSettings& settings) const {
    if (!hum_ || !*hum_ || unfit_for(rest_, settings.bandwidth)) {
        return std::nullopt;
    }
    return periodogram_.within(settings.bandwidth, settings.weighting).rms();
}

Expected<QuietRecord::QuasiPeakNoise> QuietRecord::quasi_peak_noise(Band band) const {
    if (auto failure = unfit_for(rest_, band)) {
        return tl::unexpected(*std::move(failure));
    }
    const Estimate power = rms(band, Weighting::itu_r_468);
    const QuasiPeak indication = through_468(band);
    QuasiPeakNoise noise;
    noise.largest = indication.largest;
    noise.reading.value = indication.mean;
    if (power.value > 0.0) {
        noise.reading.u_k1 = quasi_peak_scatter * indication.mean * power.u_k1 / power.value;
    }
    return noise;
}

QuasiPeak QuietRecord::through_468(Band band) const {
    const std::size_t length = periodogram_.length();
    const double rate = rest_.rate.frequency().in<Hertz>();
    const auto finer = static_cast<std::size_t>(std::ceil(quasi_peak_rate / rate));
    const double bin = periodogram_.bin_width().in<Hertz>();
    std::vector<std::complex<double>> bins(length / 2 + 1);
    std::vector<std::complex<double>> later(finer > 1 ? bins.size() : 0);
    for (std::size_t k = 0; k + 1 < bins.size(); ++k) {
        const Hertz frequency{static_cast<double>(k) * bin};
        if (inside(frequency, band)) {
            bins[k] = periodogram_.bins()[k] * itu_r_468_response(frequency);
        }
        if (k < later.size()) {
            later[k] = std::polar(
                1.0, two_pi * static_cast<double>(k) / static_cast<double>(finer * length));
        }
    }
    // The samples between the samples: the same transform back, each time a share of a sample
    // later.
    const RealTransform back{length};
    std::vector<double> volts(finer * length);
    for (std::size_t phase = 0; phase < finer; ++phase) {
        for (std::size_t k = 0; phase > 0 && k < bins.size(); ++k) {
            bins[k] *= later[k];
        }
        const std::vector<double> samples = back.inverse(bins);
        for (std::size_t n = 0; n < length; ++n) {
            volts[n * finer + phase] = samples[n];
        }
    }

    // The weight is 1 between its ends; there the record passes as it is.
    const std::size_t end = finer * (length / 20 + 1);
    const std::span<double> middle = std::span{volts}.subspan(end, volts.size() - 2 * end);
    if (hum_ && *hum_) {
        std::vector<Line> lines;
        const double apart = static_cast<double>(finer);
        // The fit's time starts in the middle of the whole record, subtract()'s in the middle of
        // the span, whose samples stand `finer` times closer.
        const double shift =
            0.5 * static_cast<double>(rest_.volts.size() - 1) -
            (static_cast<double>(end) + 0.5 * static_cast<double>(middle.size() - 1)) / apart;
        for (const HumLine& line : (*hum_)->lines) {
            if (!inside(line.frequency, band)) {
                continue;
            }
            const double omega = two_pi * line.frequency.in<Hertz>() / rate;
            const std::complex<double> phasor =
                std::polar(line.fitted.amplitude, line.fitted.phase - omega * shift) *
                itu_r_468_response(line.frequency);
            lines.push_back({omega / apart, -phasor.real(), phasor.imag()});
        }
        subtract(middle, lines, {});
    }
    return quasi_peak(middle, SampleRate{rate * static_cast<double>(finer)});
}

Expected<Curve> QuietRecord::density(Band band, int columns) const {
    if (auto failure = unfit_for(rest_, band)) {
        return tl::unexpected(*std::move(failure));
    }
    if (columns < 1 || !(band.low > Hertz{0.0})) {
        return tl::unexpected(
            FigureFailure{FigureFailure::Kind::out_of_range,
                          "a logarithmic axis needs a column and a band above 0 Hz"});
    }
    const double low = band.low.in<Hertz>();
    const double step = std::log(band.high / band.low) / columns;
    Curve curve;
    for (int column = 0; column < columns; ++column) {
        const Hertz from{low * std::exp(step * column)};
        const Hertz to{low * std::exp(step * (column + 1))};
        const auto mean = periodogram_.mean_noise({from, to});
        curve.frequency_hz.push_back(low * std::exp(step * (column + 0.5)));
        curve.value.push_back(std::sqrt(mean.value));
        curve.u_k1.push_back(mean.value > 0.0 ? 0.5 * std::sqrt(mean.variance / mean.value) : 0.0);
    }
    return curve;
}

}  // namespace afterload::analysis
