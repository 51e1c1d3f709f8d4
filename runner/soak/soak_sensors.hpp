/// Everything slow that a soak looks at: temperatures by every sensor there is, mains, offset.
#pragma once

#include "analysis/soak/temperature_watch.hpp"
#include "instruments/bench.hpp"
#include "sequences/bench_file.hpp"
#include "sequences/soak.hpp"

#include <array>
#include <deque>
#include <optional>
#include <string>
#include <vector>

namespace afterload::runner {

/// What was read at one moment; absent: no meter reads it, or it did not answer.
struct SlowLook {
    std::vector<analysis::SensorReading> sensors;  ///< in the order of SoakSensors::watched()
    std::optional<double> mains_volts;
    std::optional<double> mains_watts;
    std::array<std::optional<double>, 2> offset;  ///< V, left and right
};

/// Temperatures from where on what is done. Absent in the sequence: as is usual; the bench's own
/// limits are never loosened.
struct TemperatureLimits {
    std::optional<Celsius> warn;
    std::optional<Celsius> stop;
    std::optional<double> warn_rise;  ///< K/min
    std::optional<double> stop_rise;
};
[[nodiscard]] TemperatureLimits sink_limits(const sequences::Soak& soak,
                                            const sequences::BenchFile& bench);
[[nodiscard]] TemperatureLimits load_limits(const sequences::Soak& soak,
                                            const sequences::BenchFile& bench);
[[nodiscard]] TemperatureLimits ambient_limits(const sequences::Soak& soak);

class SoakSensors {
public:
    SoakSensors(instruments::Bench& bench, const sequences::BenchFile& file,
                const sequences::Soak& soak);

    /// For the temperature watch: every sensor, where it sits, and its limits.
    [[nodiscard]] const std::vector<analysis::WatchedSensor>& watched() const { return watched_; }
    /// Is there a sensor on the unit?
    [[nodiscard]] bool on_the_unit() const;
    /// Quantities a soak watches and no meter of the bench reads, by name.
    [[nodiscard]] std::vector<std::string> missing() const;

    /// Asks all of them; one that does not answer leaves a gap and costs nothing but its deadline.
    [[nodiscard]] instruments::Task<SlowLook> look();
    /// V across the emitter resistors, left and right; only worth something without a drive.
    [[nodiscard]] instruments::Task<std::array<std::optional<double>, 2>> quiescent();

private:
    struct Asked {
        instruments::Meter* meter = nullptr;
        instruments::MeterQuantity quantity = instruments::MeterQuantity::heat_sink;
        Channels channel = Channels::both;
    };
    void add_sensor(instruments::Meter& meter, instruments::MeterQuantity quantity,
                    const std::string& place, const TemperatureLimits& limits);
    [[nodiscard]] instruments::Task<std::optional<double>> ask(instruments::MeterQuantity quantity,
                                                               Channels channel);

    instruments::Bench& bench_;
    std::vector<analysis::WatchedSensor> watched_;
    std::vector<Asked> asked_;
};

/// The mains voltage of the last half minute.
class MainsLog {
public:
    void add(Seconds at, double volts);
    /// Was it read within a second and a half before and after `at`? Nothing: not (yet).
    [[nodiscard]] std::optional<bool> steady_at(Seconds at) const;

private:
    struct Read {
        Seconds at;
        double volts = 0.0;
    };
    std::deque<Read> reads_;
};

}  // namespace afterload::runner
