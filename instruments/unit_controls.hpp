/// How the knobs and switches of the simulated unit stand, and where the leads are clipped.
#pragma once

#include <string_view>

namespace afterload::instruments {

enum class KnobPosition { centre, maximum, minimum };
enum class UnitOutput { speaker_a, speaker_b, pre_out, headphone };

struct UnitControls {
    double volume_decibels = 0.0;  ///< below maximum: 0 is maximum, −20 the mark "-20 dB"
    bool volume_zero = false;      ///< at the end stop: nothing passes
    bool direct = true;            ///< the tone stage is bypassed
    KnobPosition bass = KnobPosition::centre;
    KnobPosition treble = KnobPosition::centre;
    bool phono = false;
    bool speakers_b = false;  ///< which set the selector is on
    bool looped = false;      ///< the sense leads are on the source's outputs, and not on the unit
    UnitOutput output = UnitOutput::speaker_a;  ///< what load and sense leads are clipped to
};

/// Turns one control. False: no such control or position, and nothing has moved.
[[nodiscard]] bool turn(UnitControls& controls, std::string_view control,
                        std::string_view position);

}  // namespace afterload::instruments
