#include "analysis/conformance.hpp"

#include "analysis/scale.hpp"
#include "analysis/standing.hpp"

#include <cmath>
#include <numbers>

namespace afterload::analysis {

std::optional<double> conformance_probability(const Figure& figure, const Limit& limit) {
    const bool has_side = limit.at_most || limit.at_least;
    if (!figure.value || !figure.unresolved.empty() || !has_side) {
        return std::nullopt;
    }
    const double value = *figure.value;
    const double u = scored_change(figure.kind, value, combined(figure.budget));
    if (!(u > 0.0) || worse_side(figure, value, limit).on_target) {
        return std::nullopt;
    }
    const auto beyond = [&](double side, bool inside) {
        const double distance = std::abs(scored(figure.kind, value) - scored(figure.kind, side));
        return 0.5 * std::erfc((inside ? distance : -distance) / (u * std::numbers::sqrt2));
    };
    double probability = 1.0;
    if (limit.at_most) {
        probability -= beyond(*limit.at_most, value <= *limit.at_most);
    }
    if (limit.at_least) {
        probability -= beyond(*limit.at_least, value >= *limit.at_least);
    }
    return probability;
}

}  // namespace afterload::analysis
