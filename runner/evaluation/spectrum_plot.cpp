#include "analysis/level.hpp"
#include "analysis/spectrum.hpp"
#include "analysis/tone.hpp"
#include "runner/evaluation/evaluate.hpp"

#include <algorithm>
#include <cmath>

namespace afterload::runner {
namespace {

constexpr std::size_t most_columns = 600;
constexpr double highest_order_drawn = 16.5;  // a little beyond the sixteenth harmonic
constexpr double lowest_db = -200.0;          // silence in an exact bin has no level

}  // namespace

std::optional<SpectrumPlot> spectrum_plot(const MeasuredRecord& record, int channel,
                                          const std::string& title) {
    const auto index = static_cast<std::size_t>(channel) - 1;
    if (index >= record.record.channels.size()) {
        return std::nullopt;
    }
    const Waveform waveform = calibrated(record.record, index);
    analysis::ToneFitSettings settings;
    settings.nominal = record.stored.driven.nominal;
    const auto fit = analysis::fit_tone(waveform, settings);
    const auto seen = analysis::spectrum(waveform, {});
    if (!fit || !seen) {
        return std::nullopt;
    }
    SpectrumPlot plot;
    plot.title = title;
    plot.channel = channel;
    plot.fundamental_hz = fit->fundamental.frequency.in<Hertz>();
    plot.fundamental_volts = fit->fundamental.amplitude / std::sqrt(2.0);
    const double bin = seen->bin_width.in<Hertz>();
    const double top =
        std::min(highest_order_drawn * plot.fundamental_hz, waveform.rate.nyquist().in<Hertz>());
    const std::size_t last =
        std::min(seen->volts_rms.size(), static_cast<std::size_t>(top / bin) + 1);
    const std::size_t columns = std::min(most_columns, last);
    const auto decibels = [&](double volts) {
        return volts > 0.0
                   ? std::max(lowest_db,
                              gain_of(AmplitudeRatio{volts / plot.fundamental_volts}).decibels())
                   : lowest_db;
    };
    for (std::size_t column = 0; column < columns; ++column) {
        const std::size_t begin = column * last / columns;
        const std::size_t end = std::max(begin + 1, (column + 1) * last / columns);
        const auto [low, high] =
            std::minmax_element(seen->volts_rms.begin() + static_cast<std::ptrdiff_t>(begin),
                                seen->volts_rms.begin() + static_cast<std::ptrdiff_t>(end));
        plot.frequency_hz.push_back(0.5 * static_cast<double>(begin + end - 1) * bin);
        plot.low_db.push_back(decibels(*low));
        plot.high_db.push_back(decibels(*high));
    }
    return plot;
}

}  // namespace afterload::runner
