/// What the switches of the control card do to the sound: loudness, rumble and high filter, mono.
/// With all of them out the stage is not there, and every sample stays as it is.
///
/// Corners are those common in integrated amplifiers: rumble filter −3 dB at 20 Hz, high filter at
/// 7 kHz, subsonic filter of the phono input at 18 Hz, all 12 dB an octave; loudness lifts 50 Hz by
/// 8 dB and 10 kHz by 3.5 dB at 30 dB below maximum, by less above, and by nothing at maximum.
#pragma once

#include "instruments/one_pole.hpp"
#include "instruments/unit_controls.hpp"

#include <array>
#include <span>

namespace afterload::instruments {

class ControlStage {
public:
    explicit ControlStage(double rate_hertz);

    void set(const UnitControls& controls);
    [[nodiscard]] bool active() const {
        return mono_ || loudness_ || rumble_ || high_ || subsonic_;
    }
    /// In place. Only to be called while active().
    void process(std::span<double> frames);

private:
    double rate_;
    bool mono_ = false;
    bool loudness_ = false;
    bool rumble_ = false;
    bool high_ = false;
    bool subsonic_ = false;
    Shelf loud_bass_;
    Shelf loud_treble_;
    std::array<Shelf, 2> rumble_filter_;
    std::array<Shelf, 2> high_filter_;
    std::array<Shelf, 2> subsonic_filter_;
};

}  // namespace afterload::instruments
