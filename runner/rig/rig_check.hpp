/// The rig check: what the bench can resolve today, and what of it is not as it should be.
#pragma once

#include "runner/driver.hpp"
#include "runner/operator.hpp"
#include "sequences/rig_file.hpp"

#include <optional>
#include <string>
#include <vector>

namespace afterload::runner {

/// Something that is not as it should be, in one line that says where to look.
struct RigFinding {
    enum class Kind {
        level,       ///< the loop does not read what it did: mixer, divider, lead
        drift,       ///< a steady tone does not stay: automatic gain, a bad contact
        channels,    ///< swapped, joined or missing
        polarity,    ///< a sense lead is the wrong way round
        gap,         ///< samples are missing or came twice
        clock,       ///< the card's rate is not what it says
        distortion,  ///< the halves could not be told apart
        hum,         ///< more hum than noise: a loop of grounds
        sensor,      ///< a meter says what cannot be
        mixer        ///< a control is not where it was when calibrated
    };
    Kind kind = Kind::level;
    std::string what;
    bool stops = false;  ///< a level would be wrong: no run before it is mended
};

struct RigCheck {
    sequences::CheckFound found;
    std::vector<RigFinding> findings;
};

struct RigCheckSettings {
    std::string now;  ///< RFC 3339, UTC
    std::optional<Hertz> mains;
    std::vector<sequences::MixerControl> mixer;  ///< as it stands now
};

/// The full check, with the loop. The bench is muted when it returns.
///
/// For each range: level against the calibration (0.05 dB), own noise, A-weighted too, own hum,
/// leak of one channel into the other. Over all of them: own distortion with the halves apart, a
/// steady tone for five seconds, polarity and identity of the channels, ten seconds without a gap,
/// clock, meters, mixer.
[[nodiscard]] instruments::Task<RunResult<RigCheck>> check_rig(Driver& driver, Operator& person,
                                                               RigCheckSettings settings);

/// The part that needs no hands, with the unit wired and nothing driven: meters plausible, mixer as
/// it was, and how old the rest is (12 hours).
[[nodiscard]] instruments::Task<RunResult<std::vector<RigFinding>>> check_rig_unattended(
    Driver& driver, RigCheckSettings settings);

/// What a deviation of the loop's level is likely to be: a divider's step where it is one of those
/// in use (6, 10, 20, 26, 40 dB), a mixer or a lead else. `range` and `channel` are named.
[[nodiscard]] std::string level_words(const std::string& range, const std::string& channel,
                                      double off_db);

}  // namespace afterload::runner
