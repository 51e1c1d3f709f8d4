/// Temperatures watched by several sensors, none of which is trusted for being there.
#pragma once

#include "analysis/quantity.hpp"

#include <array>
#include <cstddef>
#include <optional>
#include <span>
#include <string>
#include <vector>

namespace afterload::analysis {

/// A sensor, where it sits and what is too hot there. A limit that is absent is not watched.
struct WatchedSensor {
    std::string name;
    /// Sensors of one place are held against each other; the hotter counts.
    std::string place;
    std::optional<Celsius> warn;
    std::optional<Celsius> stop;
    std::optional<double> warn_rise;  ///< degC a minute, after `warm_after` of drive
    std::optional<double> stop_rise;  ///< degC a minute, at any time
};

struct TemperatureSettings {
    Seconds warm_after{1800.0};  ///< until then a warm-up may be as fast as stop_rise
    Seconds rise_over{120.0};    ///< the slope is a straight line through so much
    /// Unchanged for so long after the power changed, and for as much heat as the change below
    /// makes in that time.
    Seconds frozen_after{300.0};
    Watts frozen_power{10.0};   ///< a change of power that must show
    double frozen_share = 0.2;  ///< and by so much of what it was
    double most_apart = 10.0;   ///< degC between sensors of one place
    Seconds stale_after{10.0};  ///< a reading whose stamp is older was not read
    int missed = 2;             ///< bad reads in a row that make a sensor dead
    /// Does a dead or frozen sensor only raise a flag while another of its place is trusted?
    bool second_suffices = false;
};

/// What a sensor said. Nothing read: `value` absent.
struct SensorReading {
    std::optional<Celsius> value;
    bool fault_code = false;       ///< the sensor itself says that it is broken
    std::optional<Seconds> stamp;  ///< when it was taken, where the sensor tells
};

struct TemperatureFinding {
    enum class Kind {
        warm,       ///< over its warn limit
        hot,        ///< over its stop limit
        fast,       ///< rises faster than warn_rise
        runaway,    ///< rises faster than stop_rise
        dead,       ///< fault code, missed, 85.0 or -127: counts as over temperature
        frozen,     ///< no change while power changed: counts as over temperature
        apart,      ///< sensors of one place disagree; the hotter counts
        recovered,  ///< what was found before is over
    };
    enum class Weight { note, flag, over_temperature };
    Kind kind = Kind::warm;
    Kind recovered_from = Kind::warm;  ///< of `recovered`
    Weight weight = Weight::note;
    std::size_t sensor = 0;
    Seconds time;
    double value = 0.0;  ///< degC, or degC a minute
    double limit = 0.0;  ///< in the same unit; 0: none
    std::string what;    ///< one line
};

struct SensorStanding {
    std::optional<Celsius> value;  ///< last good reading
    std::optional<double> rise;    ///< degC a minute
    bool dead = false;
    bool frozen = false;
    bool trusted = false;  ///< neither, and read at least once
};

class TemperatureWatch {
public:
    explicit TemperatureWatch(std::vector<WatchedSensor> sensors,
                              TemperatureSettings settings = {});

    /// One reading a sensor at `time` (never before the last one), with the power that goes into
    /// the unit then, of which a sensor must take notice; absent: frozen cannot be told.
    /// `driven_for`: since drive began.
    ///
    /// Tells what began or ended with it: each finding once, not at every reading.
    ///
    /// Dead  `missed` bad reads in a row: a fault code, nothing, a stale stamp, exactly -127, or
    ///       exactly 85.0 unless the last good reading was within 2 degC of it.
    [[nodiscard]] std::vector<TemperatureFinding> add(Seconds time,
                                                      std::span<const SensorReading> readings,
                                                      std::optional<Watts> power,
                                                      Seconds driven_for);

    [[nodiscard]] const std::vector<SensorStanding>& standing() const { return standing_; }
    /// The hottest trusted reading of `place`; of any place when it is empty.
    [[nodiscard]] std::optional<Celsius> hottest(const std::string& place = {}) const;
    /// Does any sensor stand over its stop limit now, or is one dead or frozen that counts so?
    [[nodiscard]] bool over_temperature() const;

private:
    struct Dated {
        double time_s = 0.0;
        double value = 0.0;
    };
    struct State {
        std::vector<Dated> recent;  // good readings of the last minutes
        int bad = 0;                // in a row
        double held = 0.0;          // the value that does not change, since when
        double held_since_s = 0.0;
        std::optional<double> held_power;  // W, when it began to be held
        std::optional<double> moved_at_s;  // when power had moved away from that
        double moved_joules = 0.0;         // since then, more or less than before
        double last_moved_s = 0.0;
        double looked_s = 0.0;
        std::array<bool, 7> found{};  // by kind, what is told and not over
    };
    void judge(std::size_t sensor, Seconds time, Seconds driven_for,
               std::vector<TemperatureFinding>& findings);
    void set(std::size_t sensor, TemperatureFinding::Kind kind, bool now, Seconds time,
             double value, double limit, std::vector<TemperatureFinding>& findings);
    [[nodiscard]] TemperatureFinding::Weight weight(std::size_t sensor,
                                                    TemperatureFinding::Kind kind) const;
    [[nodiscard]] bool another_trusted(std::size_t sensor) const;

    std::vector<WatchedSensor> sensors_;
    TemperatureSettings settings_;
    std::vector<SensorStanding> standing_;
    std::vector<State> states_;
    std::optional<double> power_;  // running mean over half a minute
    double power_time_s_ = 0.0;
};

}  // namespace afterload::analysis
