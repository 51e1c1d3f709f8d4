/// How the knobs and switches of the simulated unit stand, and where the leads are clipped.
#pragma once

#include <array>
#include <string_view>

namespace afterload::instruments {

struct UnitParameters;

enum class KnobPosition { centre, maximum, minimum };
enum class UnitOutput { speaker_a, speaker_b, pre_out, headphone };
enum class SpeakerSwitch { a, b, both, off };

/// A tone control: at its centre, at one end, or so many decibels away from its centre.
struct Knob {
    KnobPosition position = KnobPosition::centre;
    double decibels = 0.0;  ///< beside the centre; counts at the centre alone
};

struct UnitControls {
    double volume_decibels = 0.0;  ///< below maximum: 0 is maximum, −20 the mark "-20 dB"
    bool volume_zero = false;      ///< at the end stop: nothing passes
    bool direct = true;            ///< the tone stage is bypassed
    Knob bass;
    Knob treble;
    bool phono = false;
    SpeakerSwitch speakers = SpeakerSwitch::a;
    bool looped = false;  ///< the sense leads are on the source's outputs, and not on the unit
    UnitOutput output = UnitOutput::speaker_a;  ///< what load and sense leads are clipped to
    // What stands on the control card and is easily left in.
    double balance_decibels = 0.0;  ///< right over left; it takes from the other channel
    bool mono = false;
    bool loudness = false;  ///< lifts bass and treble the more the lower the volume stands
    bool rumble_filter = false;
    bool high_filter = false;
    bool subsonic_filter = false;            ///< inside the phono path
    bool muting = false;                     ///< 20 dB
    bool tape_monitor = false;               ///< listens to a machine that is not there
    std::array<bool, 2> joined{true, true};  ///< the jumpers from pre-out to main-in
};

/// Turns one control. False: no such control or position, and nothing has moved.
///
/// volume: zero, maximum, "-20 dB"; path: tone, direct; tone: flat, defeat; bass, treble: centre,
/// maximum, minimum, "3 dB"; input: line, phono; speakers: A, B, A+B, off; balance: centre, "3 dB"
/// (right over left); mode: stereo, mono; loudness, rumble_filter, high_filter, subsonic_filter,
/// muting, tape_monitor: out, in; jumpers: in, out, left out, right out; output, leads: of the
/// bench.
[[nodiscard]] bool turn(UnitControls& controls, std::string_view control,
                        std::string_view position);

/// What controls do to a specimen's numbers without a filter: balance, muting, tape monitor, and
/// the hum that an open input of the output stage picks up.
void apply(const UnitControls& controls, UnitParameters& unit);

}  // namespace afterload::instruments
