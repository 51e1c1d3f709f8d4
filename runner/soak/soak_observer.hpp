/// What a soak makes of everything it sees: events, trends, and what is to be done. It drives
/// nothing and waits for nothing.
#pragma once

#include "analysis/soak/event_pattern.hpp"
#include "analysis/soak/reaction.hpp"
#include "analysis/soak/stimulus_watch.hpp"
#include "analysis/soak/temperature_watch.hpp"
#include "runner/soak/soak_events.hpp"
#include "runner/soak/soak_sensors.hpp"
#include "runner/soak/soak_trends.hpp"

#include <array>
#include <deque>
#include <map>
#include <optional>
#include <string>
#include <vector>

namespace afterload::runner {

/// A decision of the reactions, with the event on the sheet that brought it.
struct SoakPending {
    analysis::Decision decision;
    int event = 0;  ///< number on the sheet; 0: none
};

/// How the unit is driven at the moment of a look.
struct SoakDriving {
    bool driving = false;
    Seconds driven_for;       ///< since drive began, this time
    double output_watts = 0;  ///< both channels, as expected at this drive
    bool learning = false;    ///< the watch learns a reference
    bool steady = true;       ///< a sine: its power is the same all the time
};

/// The limits of a sequence over the usual ones.
[[nodiscard]] analysis::SoakLimits limits_of(const sequences::Soak& soak);

class SoakObserver {
public:
    SoakObserver(const sequences::Soak& soak, std::vector<analysis::WatchedSensor> sensors,
                 std::optional<double> nominal_mains, SoakEvents& events, SoakTrends& trends);

    /// What the watch told; `at` on the soak's time.
    int told(analysis::SoakEvent event, Seconds at, const SoakDriving& driving);
    /// A second of the signal.
    void read(const analysis::SoakReading& reading, Seconds at);
    void looked(const SlowLook& look, Seconds at, const SoakDriving& driving);
    /// V across the emitter resistors, read without a drive.
    void quiescent(const std::array<std::optional<double>, 2>& volts, Seconds at,
                   Seconds driven_in_all);
    void news(analysis::BenchNews news, Seconds at);
    void observe(Seconds at, const analysis::Observation& observation, int event = 0);
    /// A new drive: what is expected of mains power and quality is learnt anew.
    void drive_begins();

    [[nodiscard]] std::vector<SoakPending> take();
    [[nodiscard]] analysis::Reactions& reactions() { return reactions_; }
    [[nodiscard]] std::optional<Celsius> hottest_sink() const;
    /// Rise of the hottest sensor on the unit, K/min.
    [[nodiscard]] std::optional<double> sink_rise() const;
    [[nodiscard]] const std::vector<analysis::TemperatureLogged>& log() const { return log_; }
    [[nodiscard]] bool unit_removed() const { return unit_removed_; }

private:
    struct Quality {
        double sum = 0.0;
        int count = 0;
        std::optional<double> base;
    };
    /// A change of level that the watch told: it is no drift as well.
    struct Step {
        std::uint64_t id = 0;
        int channel = 0;  ///< 0: both
        Seconds from;
        std::optional<Seconds> until;  ///< absent: it lasts
        double decibels = 0.0;
        std::array<bool, 2> begun{};  ///< its beginning was looked for in the channel's drift
        std::array<bool, 2> ended{};  ///< its end likewise
    };
    /// Drifts of one second, judged once the next has come: what is told of it comes late.
    struct HeldDrift {
        Seconds at;
        std::array<std::optional<double>, 2> decibels;
    };
    void measured(analysis::SoakQuantity quantity, int channel, double value, Seconds at);
    void keep_step(const analysis::SoakEvent& event, Seconds at);
    void judge_drift(const HeldDrift& held);
    /// Takes a step of `decibels` for what moved the drift, where that brings it nearer.
    void explain_drift(std::size_t channel, double drift, double decibels);
    /// Ten seconds' mean over its own beginning; absent until both are there.
    static std::optional<double> ratio_to_base(Quality& quality, double value, double floor);
    void look_at_temperatures(const SlowLook& look, Seconds at, const SoakDriving& driving);
    void look_at_mains(const SlowLook& look, Seconds at, const SoakDriving& driving);
    [[nodiscard]] bool confirmed_by_another(std::size_t sensor) const;

    std::vector<analysis::WatchedSensor> sensors_;
    std::optional<double> nominal_mains_;
    SoakEvents& events_;
    SoakTrends& trends_;
    analysis::TemperatureWatch temperatures_;
    analysis::Reactions reactions_;
    std::vector<SoakPending> pending_;
    std::vector<analysis::TemperatureLogged> log_;
    std::map<analysis::WatchedStimulus::Kind, std::array<std::optional<double>, 2>> base_gains_;
    std::map<analysis::WatchedStimulus::Kind, double> base_difference_;
    std::vector<Step> steps_;
    std::optional<HeldDrift> held_drift_;
    std::array<double, 2> explained_drift_{};  ///< dB, by steps that were told
    std::array<Quality, 2> distortion_;
    std::array<Quality, 2> hum_;
    std::array<Quality, 2> noise_;
    std::array<std::optional<double>, 2> base_quiescent_;
    std::deque<double> watts_;
    std::optional<double> expected_watts_;
    std::optional<double> usual_mains_;
    int mains_event_ = 0;  ///< number of one that lasts
    Seconds mains_event_at_;
    bool unit_removed_ = false;
    Seconds logged_at_{-1e9};
    Seconds latest_;  ///< of all observations: their time never goes back
};

}  // namespace afterload::runner
