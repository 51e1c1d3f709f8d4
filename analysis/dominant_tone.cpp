#include "analysis/dominant_tone.hpp"

#include <algorithm>
#include <cmath>

namespace afterload::analysis {
namespace {

constexpr std::size_t most_samples = 65536;

}  // namespace

Expected<Spectrum> tone_spectrum(WaveformView record) {
    if (record.volts.size() > most_samples) {
        record.volts = record.volts.subspan((record.volts.size() - most_samples) / 2, most_samples);
    }
    SpectrumSettings settings;
    settings.window = tone_window;
    return spectrum(record, settings);
}

Expected<Hertz> dominant_tone(WaveformView record, Band band) {
    const auto seen = tone_spectrum(record);
    if (!seen) {
        return tl::unexpected(seen.error());
    }
    const double bin = seen->bin_width.in<Hertz>();
    const auto first = static_cast<std::size_t>(std::max(4.0, band.low.in<Hertz>() / bin));
    const auto last =
        std::min(seen->volts_rms.size(), static_cast<std::size_t>(band.high.in<Hertz>() / bin) + 1);
    if (first >= last) {
        return tl::unexpected(FigureFailure{FigureFailure::Kind::record_too_short,
                                            "the record is too short to show its tone"});
    }
    std::size_t best = first;
    double power = 0.0;
    for (std::size_t k = first; k < last; ++k) {
        power += seen->volts_rms[k] * seen->volts_rms[k];
        if (seen->volts_rms[k] > seen->volts_rms[best]) {
            best = k;
        }
    }
    const auto lobe = static_cast<std::size_t>(main_lobe_bins(tone_window));
    double own = 0.0;
    std::size_t width = 0;
    for (std::size_t k = std::max(first, best - std::min(best, lobe));
         k < std::min(last, best + lobe + 1); ++k) {
        own += seen->volts_rms[k] * seen->volts_rms[k];
        ++width;
    }
    const double peak = seen->volts_rms[best] * seen->volts_rms[best];
    const auto others = static_cast<double>(std::max<std::size_t>(1, last - first - width));
    // 20 dB above the mean of the other bins.
    if (!(peak > 0.0) || peak < 100.0 * std::max(0.0, power - own) / others) {
        return tl::unexpected(FigureFailure{FigureFailure::Kind::no_tone,
                                            "no tone stands 20 dB above the rest of the record"});
    }
    return Hertz{static_cast<double>(best) * bin};
}

}  // namespace afterload::analysis
