// Temperature sensors of the system: what is read, what counts as dead, and what does not.
#include "instruments/sensor_file.hpp"

#include "instruments/steady_clock.hpp"
#include "tests/instruments/finish.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cstdio>
#include <fstream>
#include <string>

namespace afterload::instruments {
namespace {

using probe::finish;
using testing::HasSubstr;

TEST(SensorFile, HwmonAndOneWireAreThousandthsOfADegree) {
    EXPECT_DOUBLE_EQ(sensor_celsius("43500\n").value(), 43.5);
    EXPECT_DOUBLE_EQ(sensor_celsius("-5062").value(), -5.062);
    // Linux, Documentation/w1/slaves/w1_therm: two lines, the checksum's verdict and the value.
    EXPECT_DOUBLE_EQ(sensor_celsius("72 01 4b 46 7f ff 0e 10 57 : crc=57 YES\n"
                                    "72 01 4b 46 7f ff 0e 10 57 t=23125\n")
                         .value(),
                     23.125);
}

TEST(SensorFile, FaultCodesAndWhatIsNoTemperatureAreDead) {
    EXPECT_THAT(sensor_celsius("85000\n").error(), HasSubstr("never asked to convert"));
    EXPECT_THAT(sensor_celsius("-127000").error(), HasSubstr("nothing answers"));
    EXPECT_THAT(sensor_celsius("72 01 : crc=57 NO\n72 01 t=23125\n").error(),
                HasSubstr("checksum"));
    for (const char* const text : {"", "\n", "warm", "23.5", "900000", "-60000", "12 13"}) {
        EXPECT_FALSE(sensor_celsius(text)) << text;
    }
    // A hot thing of 85.1 °C is no fault code.
    EXPECT_DOUBLE_EQ(sensor_celsius("85062").value(), 85.062);
}

TEST(StuckReading, IsDeadAfterFiveMinutesWithoutADigitMovingWhileTheDriveDid) {
    StuckReading watch;
    EXPECT_FALSE(watch.stuck(Seconds{0.0}, 41.25, 0.0));
    EXPECT_FALSE(watch.stuck(Seconds{10.0}, 41.25, 0.5));
    EXPECT_FALSE(watch.stuck(Seconds{200.0}, 41.25, 0.5));
    EXPECT_TRUE(watch.stuck(Seconds{301.0}, 41.25, 0.5));
    EXPECT_FALSE(watch.stuck(Seconds{310.0}, 41.31, 0.5));
}

TEST(StuckReading, ASteadyReadingOfASteadyThingIsNoFault) {
    StuckReading watch;
    for (double t = 0.0; t < 7200.0; t += 10.0) {
        ASSERT_FALSE(watch.stuck(Seconds{t}, 52.0, 0.2)) << t;
    }
}

TEST(StuckReading, ASlowSensorIsGivenTimeToFollowTheDrive) {
    StuckReading watch;
    EXPECT_FALSE(watch.stuck(Seconds{0.0}, 30.0, 0.1));
    EXPECT_FALSE(watch.stuck(Seconds{290.0}, 30.0, 0.1));
    EXPECT_FALSE(watch.stuck(Seconds{299.0}, 30.0, 1.0));  // it moved only now
    EXPECT_FALSE(watch.stuck(Seconds{310.0}, 30.0, 1.0));
    EXPECT_TRUE(watch.stuck(Seconds{430.0}, 30.0, 1.0));
}

TEST(SensorMeter, ReadsItsFileAndSaysWhenItIsGone) {
    const std::string path = testing::TempDir() + "temp1_input";
    std::ofstream{path} << "38750\n";
    SteadyClock clock;
    SensorMeter meter{"probe", path, MeterQuantity::heat_sink, 1.0, clock, [] { return 0.0; }};
    EXPECT_TRUE(meter.can_read(MeterQuantity::heat_sink));
    EXPECT_FALSE(meter.can_read(MeterQuantity::ambient));
    const auto reading = finish(meter.read(MeterQuantity::heat_sink, Channels::left));
    ASSERT_TRUE(reading);
    EXPECT_DOUBLE_EQ(reading->value, 38.75);
    std::remove(path.c_str());
    const auto gone = finish(meter.read(MeterQuantity::heat_sink, Channels::left));
    ASSERT_FALSE(gone);
    EXPECT_EQ(gone.error().kind, BenchFailure::Kind::lost);
    EXPECT_THAT(text(gone.error()), HasSubstr("probe"));
}

}  // namespace
}  // namespace afterload::instruments
