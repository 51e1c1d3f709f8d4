#include "analysis/level_change.hpp"

#include <cmath>

namespace afterload::analysis {

double level_change_db(double ratio) {
    constexpr double nothing_left = -120.0;
    return ratio > 1e-6 ? 20.0 * std::log10(ratio) : nothing_left;
}

}  // namespace afterload::analysis
