/// The rig's own distortion from a loop, source and input apart.
///
/// In a loop the two halves add as phasors, and may cancel: one reading that is low proves nothing.
/// At one level of the source its own harmonics stay what they are re the fundamental, while those
/// of the input follow the level that reaches the card: the second in proportion, the third with
/// its square. Three attenuations or more tell them apart, and whether the rig is of that kind.
#pragma once

#include "analysis/harmonic.hpp"
#include "analysis/tone.hpp"

#include <optional>
#include <string>
#include <vector>

namespace afterload::analysis {

/// One look at the loop, the source always at the same level.
struct LoopLook {
    double card_level = 0.0;  ///< amplitude at the card re its full scale, 0 to 1
    ToneFit fit;
};

/// Both halves, re the fundamental. The input's at a card level a: hypot(second · a, third · a²).
/// Each is the value and twice its uncertainty: what the rig may have at the most.
struct LoopDistortion {
    double source = 0.0;
    double input_second = 0.0;  ///< at full scale
    double input_third = 0.0;   ///< at full scale

    [[nodiscard]] double input_at(double card_level) const;
};

struct LoopVerdict {
    std::optional<LoopDistortion> halves;
    std::string why_not;  ///< one line, where the halves could not be told apart
};

/// Fits s + i·a to the second and s + i·a² to the third harmonic, as complex ratios whose phase is
/// that re the fundamental, weighted by their noise.
///
/// Without three looks whose levels span a factor of three, and where the looks do not fit that
/// law within five of their deviations, there are no halves.
/// Source  memoryless nonlinearity of low order; least squares after GUM H.3.
[[nodiscard]] LoopVerdict loop_distortion(const std::vector<LoopLook>& looks);

}  // namespace afterload::analysis
