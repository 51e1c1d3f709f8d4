#include "analysis/sense.hpp"

#include <cmath>

namespace afterload::analysis {

std::string_view name(Sense sense) {
    switch (sense) {
        case Sense::better:
            return "better";
        case Sense::worse:
            return "worse";
        case Sense::none:
            break;
    }
    return "";
}

namespace {

double distance_outside(double value, const Limit& limit) {
    if (limit.at_most && value > *limit.at_most) {
        return value - *limit.at_most;
    }
    return limit.at_least && value < *limit.at_least ? *limit.at_least - value : 0.0;
}

/// Nearer to the middle of a two-sided limit, farther inside a one-sided one.
double merit(FigureKind kind, double value, const std::optional<Limit>& limit) {
    switch (better(kind)) {
        case Better::smaller:
            return -value;
        case Better::larger:
            return value;
        case Better::neither:
            break;
    }
    if (!limit || (!limit->at_least && !limit->at_most)) {
        return 0.0;
    }
    if (limit->at_least && limit->at_most) {
        const double middle = limit->nominal.value_or(0.5 * (*limit->at_least + *limit->at_most));
        // Inside its tolerance a figure is as good as any other.
        return distance_outside(value, *limit) > 0.0 ? -std::abs(value - middle) : 0.0;
    }
    return limit->at_most ? -value : value;
}

}  // namespace

Sense sense_of(FigureKind kind, double before, double after, const std::optional<Limit>& limit) {
    const double gain = merit(kind, after, limit) - merit(kind, before, limit);
    return gain > 0.0 ? Sense::better : gain < 0.0 ? Sense::worse : Sense::none;
}

}  // namespace afterload::analysis
