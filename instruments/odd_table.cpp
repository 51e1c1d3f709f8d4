#include "instruments/odd_table.hpp"

namespace afterload::instruments {

OddTable::OddTable(const std::function<double(double)>& function, double fine, double largest)
    : offset_{std::exp2(std::floor(std::log2(fine)))},
      first_{std::bit_cast<std::uint64_t>(offset_) >> cell_shift} {
    const std::uint64_t last = std::bit_cast<std::uint64_t>(largest + offset_) >> cell_shift;
    double left = offset_;
    double at_left = 0.0;
    for (std::uint64_t cell = first_; cell <= last; ++cell) {
        const double right = std::bit_cast<double>((cell + 1U) << cell_shift);
        const double at_right = function(right - offset_);
        const double slope = (at_right - at_left) / (right - left);
        cells_.push_back({at_left - slope * left, slope});
        left = right;
        at_left = at_right;
    }
    last_ = cells_.size() - 1;
}

}  // namespace afterload::instruments
