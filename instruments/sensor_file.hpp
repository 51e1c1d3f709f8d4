/// Temperature sensors that the system shows as files, and how to notice that one is dead.
///
/// A dead sensor is worse than none: a soak would trust it. One that answers a fault code is dead,
/// and one that has not moved for five minutes although the power did. A steady reading of a steady
/// thing is no fault.
#pragma once

#include "instruments/clock.hpp"
#include "instruments/meter.hpp"

#include <tl/expected.hpp>

#include <functional>
#include <optional>
#include <string>
#include <string_view>

namespace afterload::instruments {

/// The text of a sensor file as degrees Celsius: thousandths of a degree, as hwmon's tempN_input
/// and a 1-wire device's `temperature` have it, or the two lines of `w1_slave`.
///
/// Fails, with why, for what is no number, a checksum that is wrong, and the fault codes of such
/// sensors: 85 °C (a DS18B20 that was never asked to convert) and -127 °C (nothing on the bus).
/// Source  Linux, Documentation/hwmon/sysfs-interface and w1/slaves/w1_therm; the fault codes:
///         common practice, from the sensors' data sheets.
[[nodiscard]] tl::expected<double, std::string> sensor_celsius(std::string_view text);

/// Follows a reading beside the drive.
class StuckReading {
public:
    /// True: the reading has stood still, to the last digit, for five minutes, and two minutes of
    /// them or more passed since the drive went up or down to half or double, or on or off.
    [[nodiscard]] bool stuck(Seconds now, double reading, double drive);

private:
    std::optional<double> reading_;
    Seconds since_;
    double drive_ = 0.0;
    std::optional<Seconds> drive_moved_;
};

class SensorMeter final : public Meter {
public:
    /// `drive`: volts of the source now. `clock` outlives it.
    SensorMeter(std::string name, std::string file, MeterQuantity quantity, double u_celsius,
                Clock& clock, std::function<double()> drive);

    [[nodiscard]] std::string identity() const override { return name_ + " (" + file_ + ")"; }
    [[nodiscard]] bool can_read(MeterQuantity quantity) const override {
        return quantity == quantity_;
    }
    [[nodiscard]] bool by_channel() const override { return false; }
    /// Fails with `lost` where the file is gone, with `wrong_reply` for a dead sensor.
    [[nodiscard]] Task<BenchResult<MeterReading>> read(MeterQuantity quantity,
                                                       Channels channel) override;

private:
    std::string name_;
    std::string file_;
    MeterQuantity quantity_;
    double u_celsius_;
    Clock& clock_;
    std::function<double()> drive_;
    StuckReading watch_;
};

}  // namespace afterload::instruments
