#include "instruments/sense_leads.hpp"

#include <cmath>
#include <cstddef>

namespace afterload::instruments {
namespace {

constexpr double riding_seconds = 3.0;  // automatic gains take some seconds: common practice
constexpr double rested_square = 1e-2;  // V²: below 0.1 V the gain is at its largest

}  // namespace

SenseLeads::SenseLeads(double rate) : settles_{-std::expm1(-1.0 / (riding_seconds * rate))} {}

void SenseLeads::set(const UnitParameters& unit, const RigParameters& rig) {
    const bool swapped = rig.leads_swapped >= 0.5;
    for (std::size_t c = 0; c < 2; ++c) {
        const double gain = unit.channels[c].lead_gain;
        const double straight = gain * (1.0 - rig.leads_joined);
        const double across = gain * rig.leads_joined;
        own_[c] = swapped ? across : straight;
        other_[c] = swapped ? straight : across;
    }
    plain_ = own_ == std::array{1.0, 1.0} && other_ == std::array{0.0, 0.0};
    riding_ = rig.gain_riding;
}

void SenseLeads::process(std::span<double> frames) {
    if (!plain_) {
        for (std::size_t i = 0; i + 1 < frames.size(); i += 2) {
            const double left = frames[i];
            const double right = frames[i + 1];
            frames[i] = own_[0] * left + other_[0] * right;
            frames[i + 1] = own_[1] * right + other_[1] * left;
        }
    }
    if (riding_ > 0.0) {
        ride(frames);
    }
}

void SenseLeads::ride(std::span<double> frames) {
    for (std::size_t i = 0; i + 1 < frames.size(); i += 2) {
        const double square = 0.5 * (frames[i] * frames[i] + frames[i + 1] * frames[i + 1]);
        square_ += settles_ * (square - square_);
        const double gain = std::pow(1.0 + square_ / rested_square, -0.5 * riding_);
        frames[i] *= gain;
        frames[i + 1] *= gain;
    }
}

}  // namespace afterload::instruments
