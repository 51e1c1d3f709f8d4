/// The phono stage: gain and the record equalisation of three time constants (3180, 318 and 75 us),
/// on the same regulated rails as the tone stage.
///
/// Source  IEC 60098 (playback characteristic for fine-groove records), without its later bass cut.
#pragma once

#include "instruments/clipper.hpp"
#include "instruments/one_pole.hpp"
#include "instruments/unit_parameters.hpp"

#include <array>
#include <span>
#include <vector>

namespace afterload::instruments {

class PhonoStage {
public:
    explicit PhonoStage(double rate_hertz);

    void set(const UnitParameters& unit);
    /// Volts at the phono input to volts at line level, in place; one frame late.
    void process(std::span<double> frames);

private:
    double rate_;
    std::array<double, 2> gain_{};
    Shelf bass_;
    Shelf treble_;
    Clipper clipper_;
    ClipLimits limits_;
    std::vector<double> work_;
};

}  // namespace afterload::instruments
