// Stored records come back bit for bit; recordings from elsewhere that cannot be used say why.
#include "instruments/recording.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <sndfile.h>

#include <cstdint>
#include <filesystem>
#include <fstream>
#include <string>

namespace afterload::instruments {
namespace {

using testing::HasSubstr;

class Recordings : public testing::Test {
protected:
    Recordings() { std::filesystem::create_directories(folder_); }
    ~Recordings() override { std::filesystem::remove_all(folder_); }
    [[nodiscard]] std::string path(const std::string& name) const { return folder_ + "/" + name; }

private:
    std::string folder_ = testing::TempDir() + "afterload-recordings-" +
                          testing::UnitTest::GetInstance()->current_test_info()->name();
};

Record with_extremes(int bits) {
    Record record;
    record.rate = SampleRate{96000.0};
    record.bits = bits;
    const std::int64_t top = std::int64_t{1} << (bits - 1);
    record.channels = {
        {0, 1, -1, static_cast<std::int32_t>(top - 1), static_cast<std::int32_t>(-top)},
        {5, 4, 3, 2, 1}};
    record.calibration = {{"left", VoltsPeak{50.0}}, {"right", VoltsPeak{50.0}}};
    return record;
}

TEST_F(Recordings, ComeBackBitForBitAtEveryDepth) {
    for (const int bits : {16, 20, 24, 32}) {
        SCOPED_TRACE(std::to_string(bits) + " bits");
        const std::string file = path("r" + std::to_string(bits) + record_ending(bits));
        const Record record = with_extremes(bits);
        ASSERT_TRUE(write_record(file, record));
        const auto back = read_record(file);
        ASSERT_TRUE(back) << back.error().what;
        EXPECT_EQ(back->channels, record.channels);
        EXPECT_EQ(back->rate, record.rate);
    }
}

TEST_F(Recordings, AreFlacUpToTwentyFourBitsAndRf64Above) {
    EXPECT_EQ(record_ending(24), ".flac");
    EXPECT_EQ(record_ending(32), ".rf64");
}

TEST_F(Recordings, ASampleThatDoesNotFitIsRefusedAndNotWrapped) {
    Record record = with_extremes(16);
    record.channels[0][0] = 32768;
    const auto written = write_record(path("over.flac"), record);
    ASSERT_FALSE(written);
    EXPECT_THAT(written.error().what, HasSubstr("does not fit"));
}

TEST_F(Recordings, FullScaleReadsAsOneAndNotAsTheLibrarysNearlyOne) {
    const std::string file = path("full.flac");
    ASSERT_TRUE(write_record(file, with_extremes(24)));
    const auto recording = read_recording(file);
    ASSERT_TRUE(recording);
    EXPECT_EQ(recording->channels[0][4], -1.0);
    EXPECT_EQ(recording->channels[0][1], 1.0 / 8388608.0);
}

TEST_F(Recordings, WhatCannotBeUsedSaysWhyAndWhatToDo) {
    std::ofstream{path("empty.wav")}.close();
    EXPECT_THAT(read_recording(path("empty.wav")).error().what, HasSubstr("is empty"));
    EXPECT_THAT(read_recording(path("none.wav")).error().what, HasSubstr("cannot be read"));
    std::ofstream{path("text.wav")} << "this is no sound";
    EXPECT_THAT(read_recording(path("text.wav")).error().what, HasSubstr("not a sound file"));
    SF_INFO info{};
    info.samplerate = 48000;
    info.channels = 1;
    info.format = SF_FORMAT_WAV | SF_FORMAT_PCM_U8;
    SNDFILE* eight = sf_open(path("eight.wav").c_str(), SFM_WRITE, &info);
    const short samples[4] = {1, 2, 3, 4};
    sf_write_short(eight, samples, 4);
    sf_close(eight);
    EXPECT_THAT(read_recording(path("eight.wav")).error().what, HasSubstr("8 bits"));
}

TEST_F(Recordings, AFileThatWasCutOffIsReadAsFarAsItGoesAndMarked) {
    SF_INFO info{};
    info.samplerate = 48000;
    info.channels = 1;
    info.format = SF_FORMAT_WAV | SF_FORMAT_PCM_16;
    SNDFILE* file = sf_open(path("cut.wav").c_str(), SFM_WRITE, &info);
    const std::vector<short> samples(1000, 7);
    sf_write_short(file, samples.data(), 1000);
    sf_close(file);
    std::filesystem::resize_file(path("cut.wav"),
                                 std::filesystem::file_size(path("cut.wav")) - 500);
    const auto recording = read_recording(path("cut.wav"));
    ASSERT_TRUE(recording);
    EXPECT_TRUE(recording->truncated);
    EXPECT_EQ(recording->channels[0].size(), 750U);
}

}  // namespace
}  // namespace afterload::instruments
