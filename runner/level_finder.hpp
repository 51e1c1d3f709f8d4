/// Finds the drive that brings the unit's outputs to a target, from below, without knowing its
/// gain.
///
/// The first drive into an unknown path assumes 85 dB of gain and yields at most 10 mW into the
/// load. Levels then rise by at most 10 dB a step until the output is seen, by at most 6 dB towards
/// the target and by at most 1 dB at the last; the gain is measured anew at each step. A target is
/// reached within -0.1 and 0 dB and never passed: a healthy unit may clip 0.2 dB over its rating.
/// Where source and bench give no more drive, the channel stays below and says so.
#pragma once

#include "analysis/tone.hpp"
#include "runner/driver.hpp"

#include <array>
#include <map>
#include <optional>
#include <string>
#include <vector>

namespace afterload::runner {

struct LevelRequest {
    std::string path;       ///< which signal path: what is learnt holds for one path only
    std::string terminals;  ///< between which it runs: other ways are known to within 24 dB
    Hertz frequency;
    std::array<double, 2> target{0.0, 0.0};  ///< V rms at the output; 0: not driven
    Ohms load{8.0};
    Seconds settle{0.3};
    std::optional<Hertz> mains;
};

struct LevelReached {
    std::array<double, 2> drive{0.0, 0.0};      ///< open-circuit V rms of the source
    std::array<double, 2> output{0.0, 0.0};     ///< V rms, as measured last
    std::array<bool, 2> seen{false, false};     ///< an output was seen at all
    std::array<bool, 2> reached{false, false};  ///< within -0.1 and 0 dB of the target
    Seconds held;                   ///< of a search: how long the level was held for the dwell
    double distortion_slope = 0.0;  ///< of a search: relative, per relative change of level
    /// Why a channel's target is beyond the source; empty: it is not.
    std::array<std::string, 2> short_of_level;
    std::vector<std::string> findings;  ///< a gain that changes with level, no output: in words
};

/// The words of it: V rms of the largest drive, of what it makes, and of the target.
[[nodiscard]] std::string short_of(double drive, double output, double target);

class LevelFinder {
public:
    explicit LevelFinder(Driver& driver) : driver_{driver} {}

    /// Leaves the drive on at the level that was reached.
    [[nodiscard]] instruments::Task<RunResult<LevelReached>> reach(LevelRequest request);

    /// One short look at the outputs under the drive that is on: fitted tones, absent where none is
    /// seen. The drive must have settled.
    [[nodiscard]] instruments::Task<RunResult<std::array<std::optional<analysis::ToneFit>, 2>>>
    look(Hertz frequency, std::optional<Hertz> mains, Seconds at_least);

    /// Gain as last measured on `path` nearest to `frequency`, volts per volt; 0 when unknown.
    [[nodiscard]] double known_gain(const std::string& path, std::size_t channel,
                                    Hertz frequency) const;

private:
    struct Known {
        Hertz frequency;
        double gain = 0.0;
    };
    struct PathMemory {
        std::array<std::vector<Known>, 2> gains;
        std::array<double, 2> highest{0.0, 0.0};  ///< largest output seen, V rms
    };
    /// All that is known between two terminals, by whatever way.
    struct Ways {
        double largest_gain = 0.0;
        double highest = 0.0;  ///< largest output seen, V rms
    };
    [[nodiscard]] double first_drive(const LevelRequest& request, std::size_t channel) const;
    void learn(const LevelRequest& request, std::size_t channel, double gain, double output);

    Driver& driver_;
    std::map<std::string, PathMemory> memory_;
    std::map<std::string, std::array<Ways, 2>> ways_;  ///< by terminals
};

}  // namespace afterload::runner
