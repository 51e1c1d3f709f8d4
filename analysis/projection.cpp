#include "analysis/projection.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace afterload::analysis {
namespace {

constexpr double end_share = 0.05;  // of the record, each end

double weight(std::size_t index, std::size_t count, std::size_t ends) {
    const std::size_t from_end = std::min(index, count - 1 - index);
    if (from_end >= ends) {
        return 1.0;
    }
    return 0.5 - 0.5 * std::cos(std::numbers::pi * (static_cast<double>(from_end) + 0.5) /
                                static_cast<double>(ends));
}

}  // namespace

Expected<ToneFit> fit_at(WaveformView record, Hertz frequency) {
    const double rate = record.rate.frequency().in<Hertz>();
    const std::size_t count = record.volts.size();
    if (frequency <= Hertz{0.0} || frequency.in<Hertz>() >= 0.5 * rate) {
        return tl::unexpected(FigureFailure{FigureFailure::Kind::out_of_range,
                                            "the frequency lies outside what the rate can hold"});
    }
    if (count < 64 || static_cast<double>(count) * frequency.in<Hertz>() < 2.0 * rate) {
        return tl::unexpected(FigureFailure{FigureFailure::Kind::record_too_short,
                                            "the record holds fewer than two periods"});
    }
    const auto ends = static_cast<std::size_t>(end_share * static_cast<double>(count));
    const double step = 2.0 * std::numbers::pi * frequency.in<Hertz>() / rate;
    const double middle = 0.5 * static_cast<double>(count - 1);
    double mean = 0.0;
    double weights = 0.0;
    double weights_squared = 0.0;
    for (std::size_t i = 0; i < count; ++i) {
        const double w = weight(i, count, ends);
        mean += w * record.volts[i];
        weights += w;
        weights_squared += w * w;
    }
    mean /= weights;
    // About a centred axis and a symmetric weight cosine and sine are orthogonal.
    double cc = 0.0;
    double ss = 0.0;
    double c1 = 0.0;
    double xc = 0.0;
    double xs = 0.0;
    for (std::size_t i = 0; i < count; ++i) {
        const double w = weight(i, count, ends);
        const double angle = step * (static_cast<double>(i) - middle);
        const double c = std::cos(angle);
        const double s = std::sin(angle);
        const double x = record.volts[i] - mean;
        cc += w * c * c;
        ss += w * s * s;
        c1 += w * c;
        xc += w * x * c;
        xs += w * x * s;
    }
    // DC and the cosine are fitted together; DC is already near zero.
    const double dc_correction = -xc * c1 / (weights * cc - c1 * c1);
    const double a = xc * weights / (weights * cc - c1 * c1);
    const double b = xs / ss;
    double residual = 0.0;
    for (std::size_t i = 0; i < count; ++i) {
        const double w = weight(i, count, ends);
        const double angle = step * (static_cast<double>(i) - middle);
        const double x =
            record.volts[i] - mean - dc_correction - a * std::cos(angle) - b * std::sin(angle);
        residual += w * x * x;
    }
    ToneFit fit;
    fit.rate = record.rate;
    fit.length = duration(Frames{static_cast<std::int64_t>(count)}, record.rate);
    fit.noise_gain = static_cast<double>(count) * weights_squared / (weights * weights);
    fit.residual_rms = std::sqrt(residual / weights);
    fit.dc = {mean + dc_correction};
    fit.fundamental.order = 1;
    fit.fundamental.frequency = frequency;
    fit.fundamental.amplitude = std::hypot(a, b);
    fit.fundamental.phase = std::atan2(-b, a);
    fit.fundamental.sigma =
        fit.residual_rms * std::sqrt(2.0 * fit.noise_gain / static_cast<double>(count));
    return fit;
}

Expected<FittedLine> line_at(WaveformView record, Hertz frequency) {
    const auto fit = fit_at(record, frequency);
    if (!fit) {
        return tl::unexpected(fit.error());
    }
    return fit->fundamental;
}

}  // namespace afterload::analysis
