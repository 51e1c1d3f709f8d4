#include "instruments/digitiser.hpp"

#include <algorithm>
#include <cmath>
#include <span>

namespace afterload::instruments {

Digitiser::Digitiser(const Simulation& simulation, double true_rate, std::size_t inner_frames)
    : true_rate_{true_rate},
      inner_frames_{inner_frames},
      safe_volts_{simulation.ranges.front().safe.in<VoltsPeak>()},
      to_front_{simulation.rate.frequency().in<Hertz>()},
      card_{simulation},
      residual_{simulation},
      leads_{true_rate} {}

void Digitiser::select(const SimulatedRange& range) {
    card_.select(range);
    safe_volts_ = range.safe.in<VoltsPeak>();
}

void Digitiser::process(Stretch& stretch, Samples* out) {
    std::span<double> inner{stretch.inner};
    for (const Stretch::Block& block : stretch.blocks) {
        const std::size_t size = 2 * inner_frames_ * block.frames;
        front_.resize(4 * block.frames);
        sensed_.resize(2 * block.frames);
        to_front_.process(inner.first(size), front_);
        inner = inner.subspan(size);
        card_.take_in(front_, sensed_);
        residual_.set_supply(block.ripple_volts, block.rail_volts);
        residual_.add_to(sensed_, block.mains_hertz, true_rate_);
        leads_.process(sensed_);
        if (block.settled) {
            double largest = 0.0;
            for (const double volts : sensed_) {
                largest = std::max(largest, std::abs(volts));
            }
            worst_volts_ = std::max(worst_volts_, largest);
            worst_range_use_ = std::max(worst_range_use_, largest / safe_volts_);
        }
        if (out != nullptr) {
            card_.convert(sensed_, *out);
        } else {
            card_.pass(sensed_);
        }
    }
}

void Digitiser::forget_worst() {
    worst_volts_ = 0.0;
    worst_range_use_ = 0.0;
}

}  // namespace afterload::instruments
