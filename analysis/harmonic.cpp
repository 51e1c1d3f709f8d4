#include "analysis/harmonic.hpp"

#include "analysis/debiased_power.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <numbers>
#include <string>

namespace afterload::analysis {

namespace {

// Frequencies are fitted: a harmonic meant to stand on the edge counts.
bool inside(Hertz frequency, const HarmonicBand& band, SampleRate rate) {
    return frequency <= 1.0001 * band.upper && frequency < rate.nyquist();
}

}  // namespace

Hertz default_upper_edge(SampleRate rate) {
    return 0.45 * rate.frequency();
}

Expected<Distortion> total_harmonic_distortion(const ToneFit& fit, const HarmonicBand& band) {
    const Hertz third = 3.0 * fit.fundamental.frequency;
    if (!inside(third, band, fit.rate) || band.highest_order < 3) {
        const double wanted = third.in<Hertz>();
        char what[200];
        std::snprintf(
            what, sizeof what,
            "the second and third harmonic of %.6g Hz are not both below %.6g Hz: record at "
            "%.6g samples a second or more and count harmonics to %.6g Hz",
            fit.fundamental.frequency.in<Hertz>(),
            std::min(band.upper, fit.rate.nyquist()).in<Hertz>(), wanted / 0.45, wanted);
        return tl::unexpected(FigureFailure{FigureFailure::Kind::out_of_range, what});
    }

    DebiasedPower together;
    Distortion distortion;
    for (const FittedLine& line : fit.harmonics) {
        if (line.order <= band.highest_order && inside(line.frequency, band, fit.rate)) {
            together.add(line.amplitude, line.sigma);
            distortion.highest_counted = std::max(distortion.highest_counted, line.order);
        }
    }
    const FittedLine& fundamental = fit.fundamental;
    distortion.band = {fundamental.frequency, std::min(band.upper, fit.rate.nyquist())};
    distortion.ratio = together.root(1.0 / fundamental.amplitude);
    distortion.ratio.u_k1 = std::hypot(
        distortion.ratio.u_k1, distortion.ratio.value * fundamental.sigma / fundamental.amplitude);
    return distortion;
}

std::vector<HarmonicRow> harmonic_table(const ToneFit& fit, const HarmonicBand& band) {
    std::vector<HarmonicRow> table;
    for (const FittedLine& line : fit.harmonics) {
        if (line.order > band.highest_order || !inside(line.frequency, band, fit.rate)) {
            continue;
        }
        const double phase = line.phase - line.order * fit.fundamental.phase;
        // remainder() gives [-π, π]; the sheet prints (-180, 180].
        double degrees = std::remainder(phase, 2.0 * std::numbers::pi) * 180.0 / std::numbers::pi;
        if (degrees <= -180.0) {
            degrees += 360.0;
        }
        table.push_back({line.order, line.amplitude / fit.fundamental.amplitude, degrees,
                         line.sigma / fit.fundamental.amplitude});
    }
    return table;
}

}  // namespace afterload::analysis
