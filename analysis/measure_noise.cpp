#include "analysis/measure.hpp"
#include "analysis/measure_quiet.hpp"
#include "analysis/rig_part.hpp"
#include "analysis/tone_figure.hpp"
#include "analysis/weighting.hpp"

#include <fmt/format.h>

#include <cmath>
#include <utility>

namespace afterload::analysis {

namespace {

using Kind = BudgetLine::Kind;

void add_volts_lines(Figure& figure, const Estimate& volts, const BenchShare& bench) {
    add_line(figure.budget, Kind::noise, record_noise, "", noise_of(volts));
    add_line(figure.budget, Kind::systematic, bench.level_source, "level",
             volts.value * bench.level_u_k1);
}

}  // namespace

Figure noise(WaveformView record, int channel, const NoiseSettings& settings,
             const BenchShare& bench, Conditions conditions) {
    return noise(QuietRecord{record, std::nullopt}, channel, settings, bench,
                 std::move(conditions));
}

Figure noise(const QuietRecord& record, int channel, const NoiseSettings& settings,
             const BenchShare& bench, Conditions conditions) {
    Figure figure;
    figure.kind = FigureKind::noise_voltage;
    figure.channel = channel;
    figure.conditions = std::move(conditions);
    figure.conditions.bandwidth = settings.bandwidth;
    figure.conditions.weighting = settings.weighting;
    if (settings.weighting == Weighting::itu_r_468) {
        figure.conditions.detector = settings.detector;
    }
    double largest = 0.0;
    Expected<Estimate> volts = tl::unexpected(FigureFailure{});
    if (settings.detector == Detector::quasi_peak && settings.weighting == Weighting::itu_r_468) {
        volts = record.quasi_peak_noise(settings.bandwidth)
                    .map([&](const QuietRecord::QuasiPeakNoise& noise) {
                        largest = noise.largest;
                        return noise.reading;
                    });
    } else {
        volts = record.noise(settings);
    }
    if (!volts) {
        return without_value(std::move(figure), volts.error().what);
    }
    figure.value = volts->value;
    add_volts_lines(figure, *volts, bench);
    const std::optional<Estimate> alone = record.without_mains(settings);
    if (settings.detector == Detector::rms && alone) {
        figure.details.emplace_back("without_mains_lines", alone->value);
    }
    if (settings.detector == Detector::quasi_peak) {
        figure.details.emplace_back("largest_indication", largest);
    } else if (settings.weighting == Weighting::itu_r_468) {
        const double at_2_khz =
            amplitude_ratio(itu_r_468_weighting(Hertz{2000.0})).in<AmplitudeRatio>();
        figure.details.emplace_back("re_2_khz", volts->value / at_2_khz);
    }
    state_rig(figure, of_noise(bench, volts->value, settings), volts->bound);
    return figure;
}

void add_density(Figure& noise, const QuietRecord& record, int columns_a_decade) {
    if (!noise.unresolved.empty() || !noise.conditions.bandwidth) {
        return;
    }
    const Band band = *noise.conditions.bandwidth;
    const double decades = std::log10(band.high / band.low);
    const Expected<Curve> curve =
        record.density(band, static_cast<int>(std::lround(columns_a_decade * decades)));
    if (curve) {
        noise.curve = *curve;
    }
}

namespace {

Figure hum_figure(const Expected<Hum>& lines, int channel, const BenchShare& bench,
                  Conditions conditions) {
    Figure figure;
    figure.kind = FigureKind::hum_voltage;
    figure.channel = channel;
    figure.conditions = std::move(conditions);
    if (!lines) {
        return without_value(std::move(figure), lines.error().what);
    }
    figure.value = lines->together.value;
    add_volts_lines(figure, lines->together, bench);
    for (const HumLine& line : lines->lines) {
        if (line.order == 1) {
            figure.details.emplace_back("mains_frequency", line.frequency.in<Hertz>());
        }
        figure.details.emplace_back(fmt::format("line_{}", line.order), line.voltage.value);
    }
    state_rig(figure, of_hum(bench), lines->together.bound);
    return figure;
}

}  // namespace

Figure hum_voltage(WaveformView record, int channel, Hertz mains, const BenchShare& bench,
                   Conditions conditions) {
    return hum_figure(hum(record, mains), channel, bench, std::move(conditions));
}

Figure hum_voltage(const QuietRecord& record, int channel, const BenchShare& bench,
                   Conditions conditions) {
    const Expected<Hum> none = tl::unexpected(
        FigureFailure{FigureFailure::Kind::out_of_range, "no mains frequency was stated"});
    return hum_figure(record.hum().value_or(none), channel, bench, std::move(conditions));
}

Figure dc_offset(VoltsDc value, double u_k1, const std::string& source, int channel,
                 Conditions conditions) {
    Figure figure;
    figure.kind = FigureKind::dc_offset;
    figure.channel = channel;
    figure.conditions = std::move(conditions);
    figure.value = value.in<VoltsDc>();
    add_line(figure.budget, Kind::systematic, source, "meter", u_k1);
    figure.rig_added = 0.0;
    figure.rig_cancelled = 0.0;
    return figure;
}

}  // namespace afterload::analysis
