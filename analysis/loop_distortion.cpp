#include "analysis/loop_distortion.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <complex>
#include <cstdio>
#include <utility>

namespace afterload::analysis {
namespace {

using Complex = std::complex<double>;

constexpr double least_span = 3.0;
constexpr double most_deviations = 5.0;
constexpr std::size_t least_looks = 3;

struct Point {
    double x = 0.0;  // a or a²
    Complex ratio;
    double sigma = 0.0;  // of each of its parts
};

std::optional<Point> point_of(const LoopLook& look, int order) {
    const FittedLine& tone = look.fit.fundamental;
    for (const FittedLine& line : look.fit.harmonics) {
        if (line.order != order) {
            continue;
        }
        Point point;
        point.x = std::pow(look.card_level, order - 1);
        point.ratio = std::polar(line.amplitude / tone.amplitude, line.phase - order * tone.phase);
        point.sigma = line.sigma / tone.amplitude;
        return point;
    }
    return std::nullopt;
}

struct StraightLine {
    double at_nothing = 0.0;  // |intercept| + 2u
    double slope = 0.0;       // |slope| + 2u
    double worst = 0.0;       // deviation of a point from it, in its own
};

// Weighted, of complex values on real places. The points must not all stand at one place.
StraightLine straight_line(const std::vector<Point>& points) {
    double s = 0.0;
    double sx = 0.0;
    double sxx = 0.0;
    Complex sy;
    Complex sxy;
    for (const Point& point : points) {
        const double weight = 1.0 / (point.sigma * point.sigma);
        s += weight;
        sx += weight * point.x;
        sxx += weight * point.x * point.x;
        sy += weight * point.ratio;
        sxy += weight * point.x * point.ratio;
    }
    const double determinant = s * sxx - sx * sx;
    const Complex intercept = (sxx * sy - sx * sxy) / determinant;
    const Complex slope = (s * sxy - sx * sy) / determinant;
    StraightLine line;
    line.at_nothing = std::abs(intercept) + 2.0 * std::sqrt(sxx / determinant);
    line.slope = std::abs(slope) + 2.0 * std::sqrt(s / determinant);
    for (const Point& point : points) {
        const double off = std::abs(point.ratio - intercept - slope * point.x);
        line.worst = std::max(line.worst, off / (std::sqrt(2.0) * point.sigma));
    }
    return line;
}

LoopVerdict none(std::string why) {
    return {std::nullopt, std::move(why)};
}

}  // namespace

double LoopDistortion::input_at(double card_level) const {
    return std::hypot(input_second * card_level, input_third * card_level * card_level);
}

LoopVerdict loop_distortion(const std::vector<LoopLook>& looks) {
    if (looks.size() < least_looks) {
        return none(
            "two attenuations of the input do not tell the source's distortion from the input's, "
            "and the two may cancel: three are needed");
    }
    const auto [least, most] = std::minmax_element(
        looks.begin(), looks.end(),
        [](const auto& a, const auto& b) { return a.card_level < b.card_level; });
    if (!(least->card_level > 0.0) || most->card_level < least_span * least->card_level) {
        return none("the attenuations lie too near to each other: a factor of three is needed");
    }
    std::array<StraightLine, 2> lines;
    for (const int order : {2, 3}) {
        std::vector<Point> points;
        for (const LoopLook& look : looks) {
            const auto point = point_of(look, order);
            if (!point || !(point->sigma > 0.0)) {
                return none("a harmonic lies above the band: record at a higher rate");
            }
            points.push_back(*point);
        }
        StraightLine& line = lines[static_cast<std::size_t>(order) - 2];
        line = straight_line(points);
        if (line.worst > most_deviations) {
            char what[200];
            std::snprintf(what, sizeof what,
                          "harmonic %d does not follow the level as an input's does (%.0f "
                          "deviations off): something else distorts, or a lead is bad",
                          order, line.worst);
            return none(what);
        }
    }
    LoopDistortion halves;
    halves.source = std::hypot(lines[0].at_nothing, lines[1].at_nothing);
    halves.input_second = lines[0].slope;
    halves.input_third = lines[1].slope;
    return {halves, ""};
}

}  // namespace afterload::analysis
