/// A number from a record with its standard uncertainty from the record's own noise, or a bound.
#pragma once

#include "analysis/figure.hpp"

#include <optional>

namespace afterload::analysis {

struct Estimate {
    double value = 0.0;
    double u_k1 = 0.0;  ///< from the record's noise alone
    /// Where the reading cannot be told from the record's own noise: at most (or at least) this,
    /// k = 2. `value` is then the most likely value and not a reading.
    std::optional<Bound> bound;
};

}  // namespace afterload::analysis
