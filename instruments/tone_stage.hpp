/// The tone stage: bass and treble shelves on regulated rails of its own. The direct path bypasses
/// it.
///
/// It works at a higher level than the pre-out (a fixed pad follows), so low rails clip it before
/// the output stage clips, in both channels alike.
#pragma once

#include "instruments/clipper.hpp"
#include "instruments/one_pole.hpp"
#include "instruments/unit_controls.hpp"
#include "instruments/unit_parameters.hpp"

#include <array>
#include <span>
#include <vector>

namespace afterload::instruments {

class ToneStage {
public:
    explicit ToneStage(double rate_hertz);

    void set(const UnitParameters& unit, const UnitControls& controls);
    /// In place, on the scale of the output stage's volts; one frame late.
    void process(std::span<double> frames);

private:
    double rate_;
    Shelf bass_;
    Shelf treble_;
    Clipper clipper_;
    ClipLimits limits_;
    std::vector<double> work_;
};

}  // namespace afterload::instruments
