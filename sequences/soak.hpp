/// A soak as a sequence states it: hours on load, what is played, what is watched for, and what is
/// measured again meanwhile.
#pragma once

#include "analysis/conditions.hpp"
#include "analysis/quantity.hpp"
#include "sequences/place.hpp"
#include "sequences/quantity_text.hpp"
#include "sequences/sequence.hpp"

#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace afterload::sequences {

/// What plays while the unit soaks.
enum class SoakSignal { sine, pink_noise, file };
[[nodiscard]] std::string_view name(SoakSignal signal);  ///< "pink_noise"
[[nodiscard]] std::string in_words(SoakSignal signal);   ///< "pink noise"

/// Noise gives way to the sine for `lasts`, once in `every`: noise heats like music, a sine is
/// easily scored.
struct SineWindow {
    Seconds every{600.0};
    Seconds lasts{60.0};
};

/// Driven for `on`, silent for `off`, again and again: joints break of the change of heat.
struct OnOffCycle {
    Seconds on;
    Seconds off;
};

/// From where on what is done, in the unit of the quantity. Absent: as is usual.
struct SoakLimitEntry {
    std::string quantity;  ///< a name of soak_limit_names()
    std::optional<double> flag;
    std::optional<double> hold;
    std::optional<double> kill;
    Place place;
};

/// Steps that are carried out within a soak, and when.
struct Remeasured {
    std::vector<Step> steps;  ///< they need no hands and drive no longer than they say
    std::optional<Seconds> every;
    bool at_start = false;  ///< before the soak's own drive begins
    bool at_end = false;    ///< when its time is up, the unit as hot as it is
    bool hot = false;  ///< once, when the heat-sink has stopped rising, at three quarters at latest
    Place place;
};

struct Soak {
    Seconds duration;
    LevelTarget level{LevelTarget::Kind::rated_fraction, 0.125};
    SoakSignal signal = SoakSignal::sine;
    Hertz frequency{997.0};  ///< of the sine, and of the sine windows
    std::optional<SineWindow> sine_window;
    std::string file;  ///< of signal file, as written
    std::optional<OnOffCycle> cycle;
    Seconds regulate{60.0};  ///< the level is looked at so often and moved slowly; zero: never
    int retries = 1;         ///< of a hold; the next one stops the soak
    std::vector<SoakLimitEntry> limits;
    std::vector<Remeasured> remeasure;
    std::map<std::string, Place, std::less<>> places;  ///< of the values, by key
};

/// What a limit can be set on, the dimension it is written in, and which reactions it knows: a
/// temperature that is too high has no hold.
struct SoakLimitName {
    std::string_view name;
    Dimension dimension;
    bool holds = true;
};
[[nodiscard]] std::span<const SoakLimitName> soak_limit_names();

}  // namespace afterload::sequences
