#include "analysis/waveform.hpp"

#include <gtest/gtest.h>

#include <stdexcept>

namespace afterload {
namespace {

using namespace afterload::literals;

Record one_channel(int bits, std::vector<std::int32_t> samples, VoltsPeak full_scale) {
    Record record;
    record.rate = SampleRate{48000.0};
    record.bits = bits;
    record.channels.push_back(std::move(samples));
    record.calibration.push_back({"left", full_scale});
    return record;
}

TEST(Waveform, FullScaleIsTheNegativeEndOfTheIntegers) {
    const Record record = one_channel(24, {-8388608, 8388607, 4194304, 0, 1}, 30_Vpeak);
    const Waveform volts = calibrated(record, 0);
    ASSERT_EQ(volts.volts.size(), 5U);
    EXPECT_DOUBLE_EQ(volts.volts[0], -30.0);
    EXPECT_DOUBLE_EQ(volts.volts[1], 30.0 * 8388607.0 / 8388608.0);
    EXPECT_DOUBLE_EQ(volts.volts[2], 15.0);
    EXPECT_DOUBLE_EQ(volts.volts[3], 0.0);
    EXPECT_DOUBLE_EQ(volts.volts[4], 30.0 / 8388608.0);
}

TEST(Waveform, SixteenAndThirtyTwoBitsMeanTheSameVolts) {
    const Waveform coarse = calibrated(one_channel(16, {16384}, 2_Vpeak), 0);
    const Waveform fine = calibrated(one_channel(32, {1073741824}, 2_Vpeak), 0);
    EXPECT_DOUBLE_EQ(coarse.volts[0], 1.0);
    EXPECT_DOUBLE_EQ(fine.volts[0], 1.0);
}

TEST(Waveform, EachChannelHasItsOwnCalibration) {
    Record record = one_channel(24, {4194304}, 30_Vpeak);
    record.channels.push_back({4194304});
    record.calibration.push_back({"right", 3_Vpeak});
    EXPECT_DOUBLE_EQ(calibrated(record, 0).volts[0], 15.0);
    EXPECT_DOUBLE_EQ(calibrated(record, 1).volts[0], 1.5);
    EXPECT_EQ(calibrated(record, 1).rate, SampleRate{48000.0});
    EXPECT_THROW((void)calibrated(record, 2), std::out_of_range);
}

TEST(Waveform, LengthIsThatOfItsChannels) {
    EXPECT_EQ(one_channel(24, {1, 2, 3}, 1_Vpeak).length(), Frames{3});
    EXPECT_EQ(Record{}.length(), Frames{0});
}

}  // namespace
}  // namespace afterload
