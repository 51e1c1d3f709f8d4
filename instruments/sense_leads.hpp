/// What leads that are wired wrong, and a card that minds the level by itself, make of what the
/// terminals carry. Leads as they should be change nothing.
#pragma once

#include "instruments/fault.hpp"
#include "instruments/unit_parameters.hpp"

#include <array>
#include <span>

namespace afterload::instruments {

class SenseLeads {
public:
    /// `rate`: frames a true second.
    explicit SenseLeads(double rate);

    void set(const UnitParameters& unit, const RigParameters& rig);
    /// Frames left, right, left, right ... in volts, changed where they are.
    void process(std::span<double> frames);

private:
    void ride(std::span<double> frames);

    std::array<double, 2> own_{1.0, 1.0};    ///< of its own channel that each input hears
    std::array<double, 2> other_{0.0, 0.0};  ///< of the other one
    bool plain_ = true;
    double riding_ = 0.0;
    double settles_;       ///< share of the way to a new level in one frame
    double square_ = 0.0;  ///< V², mean of both inputs
};

}  // namespace afterload::instruments
