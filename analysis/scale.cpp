#include "analysis/scale.hpp"

#include "analysis/level.hpp"

#include <cmath>
#include <limits>
#include <numbers>

namespace afterload::analysis {

namespace {

enum class Shape { linear, root, inverse, ratio_of_decibels };

Shape shape_of(FigureKind kind) {
    switch (kind) {
        case FigureKind::output_power:
        case FigureKind::short_term_power:
        case FigureKind::distortion_limited_power:
            return Shape::root;
        case FigureKind::damping_factor:
            return Shape::inverse;
        case FigureKind::channel_separation:
        case FigureKind::signal_to_noise:
        case FigureKind::sinad:
            return Shape::ratio_of_decibels;
        default:
            return Shape::linear;
    }
}

// d(scored)/d(value), without its sign.
double slope(FigureKind kind, double value) {
    switch (shape_of(kind)) {
        case Shape::linear:
            return 1.0;
        case Shape::root:
            return value > 0.0 ? 0.5 / std::sqrt(value) : std::numeric_limits<double>::infinity();
        case Shape::inverse:
            return 1.0 / (value * value);
        case Shape::ratio_of_decibels:
            return scored(kind, value) * std::numbers::ln10 / 20.0;
    }
    return 1.0;
}

}  // namespace

double scored(FigureKind kind, double value) {
    switch (shape_of(kind)) {
        case Shape::linear:
            return value;
        case Shape::root:
            return value > 0.0 ? std::sqrt(value) : 0.0;
        case Shape::inverse:
            return value > 0.0 ? 1.0 / value : std::numeric_limits<double>::infinity();
        case Shape::ratio_of_decibels:
            return amplitude_ratio(Gain{-value}).in<AmplitudeRatio>();
    }
    return value;
}

double unscored(FigureKind kind, double on_scale) {
    switch (shape_of(kind)) {
        case Shape::linear:
            return on_scale;
        case Shape::root:
            return on_scale * on_scale;
        case Shape::inverse:
            return 1.0 / on_scale;
        case Shape::ratio_of_decibels:
            return -gain_of(AmplitudeRatio{on_scale}).decibels();
    }
    return on_scale;
}

double scored_change(FigureKind kind, double value, double change) {
    return change == 0.0 ? 0.0 : slope(kind, value) * change;
}

double unscored_change(FigureKind kind, double value, double change) {
    return change == 0.0 ? 0.0 : change / slope(kind, value);
}

bool falling(FigureKind kind) {
    const Shape shape = shape_of(kind);
    return shape == Shape::inverse || shape == Shape::ratio_of_decibels;
}

}  // namespace afterload::analysis
