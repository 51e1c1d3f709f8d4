/// What a soak drives a unit with: risen to from below, kept near its level, and counted.
#pragma once

#include "analysis/soak/stimulus_watch.hpp"
#include "runner/driver.hpp"
#include "runner/level_finder.hpp"
#include "runner/papers/run_document.hpp"
#include "runner/soak/soak_player.hpp"
#include "sequences/soak.hpp"

#include <array>
#include <optional>
#include <string>
#include <vector>

namespace afterload::runner {

struct SoakAtWork;

class SoakDrive {
public:
    using What = SoakPlayer::What;

    /// What is referred to outlives it.
    explicit SoakDrive(const SoakAtWork& work);

    [[nodiscard]] SoakPlayer& player() { return player_; }
    [[nodiscard]] const SoakPlayer& player() const { return player_; }
    [[nodiscard]] bool on() const { return player_.what() != What::nothing; }
    [[nodiscard]] double target() const { return target_; }  ///< V rms at the output
    /// Both channels, as expected at this drive; 0 when nothing plays.
    [[nodiscard]] double watts() const { return on() ? expected_watts_ : 0.0; }
    /// Since drive began, this time.
    [[nodiscard]] Seconds driven_for(Seconds now) const {
        return on() ? now - since_ : Seconds{0.0};
    }
    [[nodiscard]] Seconds driven_in_all(Seconds now) const { return in_all_ + driven_for(now); }

    /// Load, range and level as everything that drives comes to them, then `what`. Returns what was
    /// found on the way. begun() says from when on it counts.
    [[nodiscard]] instruments::Task<RunResult<std::vector<std::string>>> begin(What what);
    void begun(Seconds now);
    /// Another sound at the same level.
    [[nodiscard]] instruments::Task<RunResult<void>> change(What what);
    [[nodiscard]] instruments::Task<RunResult<void>> mute(Seconds now);

    /// A second that was watched.
    void add(const analysis::SoakReading& reading);

    struct Moved {
        SoakRegulation told;
        std::optional<Gain> change;  ///< nothing: left alone
    };
    /// Moves the level slowly towards the target, never past it, where that is due. Nothing: it is
    /// not, or stands where it should.
    [[nodiscard]] instruments::Task<RunResult<std::optional<Moved>>> regulate(Seconds now);

private:
    struct GainSum {
        double sum = 0.0;
        double count = 0.0;
    };

    const SoakAtWork& work_;
    const sequences::Soak& soak_;
    SoakPlayer player_;
    LevelFinder finder_;
    Ohms load_;
    double target_;
    std::array<double, 2> drive_{};
    std::array<double, 2> found_drive_{};
    std::array<double, 2> output_{};
    double expected_watts_ = 0.0;
    std::array<GainSum, 2> gains_{};  ///< since it was last regulated
    Seconds since_;
    Seconds in_all_;
    Seconds regulated_;
};

}  // namespace afterload::runner
