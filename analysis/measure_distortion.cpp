#include "analysis/measure.hpp"
#include "analysis/rig_part.hpp"
#include "analysis/scale.hpp"
#include "analysis/tone_figure.hpp"

#include <cmath>
#include <utility>

namespace afterload::analysis {

namespace {

using Kind = BudgetLine::Kind;

std::optional<double> sum_of(const std::optional<double>& a, const std::optional<double>& b) {
    return a && b ? std::optional{*a + *b} : std::nullopt;
}

// Distortion and noise of the rig together, as a ratio re the fundamental.
RigPart of_all_but_the_tone(const ToneRecord& tone, double ratio, const NoiseSettings& settings) {
    const double volts = rms_of_sine(VoltsPeak{tone.fit.fundamental.amplitude}).in<VoltsRms>();
    const RigPart distortion = of_distortion(tone.bench);
    RigPart noise = of_noise(tone.bench, ratio * volts, settings);
    if (noise.added) {
        noise.added = *noise.added / volts;
    }
    return {sum_of(distortion.added, noise.added), sum_of(distortion.cancelled, noise.cancelled)};
}

void meter(Figure& figure, const NoiseSettings& settings) {
    figure.conditions.bandwidth = settings.bandwidth;
    figure.conditions.weighting = settings.weighting;
}

}  // namespace

Figure thd(const ToneRecord& tone, const HarmonicBand& band, double level_slope) {
    Figure figure = begin(FigureKind::thd, tone);
    const Expected<Distortion> distortion = total_harmonic_distortion(tone.fit, band);
    if (!distortion) {
        return without_value(std::move(figure), distortion.error().what);
    }
    const Estimate& ratio = distortion->ratio;
    figure.value = ratio.value;
    figure.conditions.highest_order = distortion->highest_counted;
    figure.conditions.bandwidth = distortion->band;
    add_line(figure.budget, Kind::noise, record_noise, "", noise_of(ratio));
    add_line(figure.budget, Kind::systematic, tone.bench.level_source, "level",
             std::abs(level_slope) * tone.bench.level_u_k1 * ratio.value);
    state_rig(figure, of_distortion(tone.bench), ratio.bound);
    return figure;
}

Figure harmonics(const ToneRecord& tone, const HarmonicBand& band) {
    Figure figure = begin(FigureKind::harmonic, tone);
    figure.table = harmonic_table(tone.fit, band);
    if (figure.table.empty()) {
        return without_value(std::move(figure),
                             "no harmonic lies inside the band: record at a higher rate");
    }
    figure.conditions.highest_order = figure.table.back().order;
    figure.conditions.bandwidth = Band{tone.fit.fundamental.frequency, band.upper};
    const RigPart rig = of_distortion(tone.bench);
    figure.rig_added = rig.added;
    figure.rig_cancelled = rig.cancelled;
    return figure;
}

namespace {

Figure thd_plus_noise_of(const ToneRecord& tone, const NoiseSettings& settings,
                         const Expected<Estimate>& ratio) {
    Figure figure = begin(FigureKind::thd_plus_noise, tone);
    meter(figure, settings);
    if (!ratio) {
        return without_value(std::move(figure), ratio.error().what);
    }
    figure.value = ratio->value;
    add_line(figure.budget, Kind::noise, record_noise, "", noise_of(*ratio));
    state_rig(figure, of_all_but_the_tone(tone, ratio->value, settings), ratio->bound);
    return figure;
}

Figure sinad_of(const ToneRecord& tone, const NoiseSettings& settings,
                const Expected<Estimate>& ratio) {
    Figure figure = begin(FigureKind::sinad, tone);
    meter(figure, settings);
    if (!ratio) {
        return without_value(std::move(figure), ratio.error().what);
    }
    const Estimate decibels = sinad_of(*ratio);
    figure.value = decibels.value;
    add_line(figure.budget, Kind::noise, record_noise, "", noise_of(decibels));
    state_rig(figure, of_all_but_the_tone(tone, ratio->value, settings), decibels.bound);
    return figure;
}

}  // namespace

Figure thd_plus_noise(const ToneRecord& tone, const NoiseSettings& settings) {
    return thd_plus_noise_of(tone, settings, thd_plus_noise(tone.record, tone.fit, settings));
}

Figure sinad(const ToneRecord& tone, const NoiseSettings& settings) {
    return sinad_of(tone, settings, thd_plus_noise(tone.record, tone.fit, settings));
}

std::array<Figure, 2> thd_plus_noise_and_sinad(const ToneRecord& tone,
                                               const NoiseSettings& settings) {
    const Expected<Estimate> ratio = thd_plus_noise(tone.record, tone.fit, settings);
    return {thd_plus_noise_of(tone, settings, ratio), sinad_of(tone, settings, ratio)};
}

}  // namespace afterload::analysis
