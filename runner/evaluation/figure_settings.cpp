#include "analysis/tone.hpp"
#include "runner/evaluation/figure_families.hpp"

#include <algorithm>

namespace afterload::runner {

std::optional<analysis::WorstPoint> worst_inside(const Curve& curve, Band range,
                                                 const RatedFigure& rated) {
    return analysis::worst_of(curve, range, rated.limit.at_least.value_or(-1e9),
                              rated.limit.at_most.value_or(1e9));
}

analysis::HarmonicBand harmonic_band(const sequences::FigureRequest& request,
                                     const RatedFigure* rated, SampleRate rate) {
    analysis::HarmonicBand band;
    band.upper = analysis::default_upper_edge(rate);
    const auto stated = request.bandwidth  ? request.bandwidth
                        : rated != nullptr ? rated->conditions.bandwidth
                                           : std::nullopt;
    if (stated) {
        band.upper = std::min(band.upper, stated->high);
    }
    if (request.highest_order) {
        band.highest_order = *request.highest_order;
    } else if (rated != nullptr && rated->conditions.highest_order) {
        band.highest_order = *rated->conditions.highest_order;
    }
    return band;
}

analysis::NoiseSettings noise_settings(const sequences::FigureRequest& request,
                                       const RatedFigure* rated, SampleRate rate) {
    analysis::NoiseSettings settings;
    if (request.bandwidth) {
        settings.bandwidth = *request.bandwidth;
    } else if (rated != nullptr && rated->conditions.bandwidth) {
        settings.bandwidth = *rated->conditions.bandwidth;
    }
    settings.bandwidth.high = std::min(settings.bandwidth.high, analysis::default_upper_edge(rate));
    if (request.weighting) {
        settings.weighting = *request.weighting;
    } else if (rated != nullptr && rated->conditions.weighting) {
        settings.weighting = *rated->conditions.weighting;
    }
    if (request.detector) {
        settings.detector = *request.detector;
    } else if (rated != nullptr && rated->conditions.detector) {
        settings.detector = *rated->conditions.detector;
    } else if (settings.weighting == Weighting::itu_r_468) {
        settings.detector = Detector::quasi_peak;  // the Recommendation's own
    }
    return settings;
}

}  // namespace afterload::runner
