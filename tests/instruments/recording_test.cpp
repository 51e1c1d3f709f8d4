// Stored records come back bit for bit; recordings from elsewhere that cannot be used say why.
#include "instruments/recording.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <sndfile.h>

#include <cmath>
#include <cstdint>
#include <filesystem>
#include <fstream>
#include <limits>
#include <random>
#include <span>
#include <string>
#include <vector>

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

// Outside reference: libsndfile's own reading of whole numbers.
TEST_F(Recordings, SamplesThatStandPlainInTheFileAreReadAsLibsndfileReadsThem) {
    constexpr int channels = 3;
    constexpr int frames = 20001;  // more than are read at once, and not a whole number of those
    std::mt19937 draw{11};
    std::vector<int> samples(static_cast<std::size_t>(channels) * frames);
    for (int& sample : samples) {
        sample = static_cast<int>(draw());
    }
    samples[0] = std::numeric_limits<int>::min();
    samples[1] = std::numeric_limits<int>::max();
    for (const int major : {SF_FORMAT_WAV, SF_FORMAT_WAVEX, SF_FORMAT_RF64, SF_FORMAT_AIFF}) {
        for (const int depth : {SF_FORMAT_PCM_16, SF_FORMAT_PCM_24, SF_FORMAT_PCM_32}) {
            for (const int order : {SF_ENDIAN_FILE, SF_ENDIAN_BIG}) {
                SF_INFO info{};
                info.samplerate = 48000;
                info.channels = channels;
                info.format = major | depth | order;
                SNDFILE* file = sf_open(path("plain").c_str(), SFM_WRITE, &info);
                if (file == nullptr) {
                    continue;  // libsndfile writes no such file
                }
                ASSERT_EQ(sf_writef_int(file, samples.data(), frames), frames);
                sf_close(file);
                SCOPED_TRACE(info.format);
                std::vector<int> theirs(samples.size());
                file = sf_open(path("plain").c_str(), SFM_READ, &info);
                ASSERT_EQ(sf_readf_int(file, theirs.data(), frames), frames);
                sf_close(file);
                const auto ours = read_recording(path("plain"));
                ASSERT_TRUE(ours);
                for (std::size_t c = 0; c < channels; ++c) {
                    ASSERT_EQ(ours->channels[c].size(), frames);
                    for (std::size_t n = 0; n < frames; ++n) {
                        ASSERT_EQ(ours->channels[c][n], std::ldexp(theirs[channels * n + c], -31));
                    }
                }
            }
        }
    }
}

TEST_F(Recordings, ItsBytesAloneReadAsTheFileItself) {
    const std::string file = path("bytes.flac");
    ASSERT_TRUE(write_record(file, with_extremes(24)));
    const auto whole = read_recording(file);
    ASSERT_TRUE(whole);
    std::ifstream in{file, std::ios::binary};
    const std::string bytes{std::istreambuf_iterator<char>{in}, {}};
    auto reader = RecordingReader::open_bytes("bytes.flac", bytes);
    ASSERT_TRUE(reader);
    ASSERT_EQ(reader->channels(), whole->channels.size());
    std::vector<std::vector<double>> samples(
        whole->channels.size(), std::vector<double>(whole->channels.front().size() + 1));
    std::vector<std::span<double>> into{samples.begin(), samples.end()};
    const std::vector<double> scale(samples.size(), 1.0);
    ASSERT_EQ(reader->read(into, scale), whole->channels.front().size());
    for (std::size_t c = 0; c < samples.size(); ++c) {
        samples[c].pop_back();
        EXPECT_EQ(samples[c], whole->channels[c]);
    }
    EXPECT_FALSE(reader->grew());
    EXPECT_THAT(RecordingReader::open_bytes("none", "").error().what, HasSubstr("is empty"));
    EXPECT_THAT(RecordingReader::open_bytes("text", "no sound").error().what,
                HasSubstr("not a sound file"));
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

TEST_F(Recordings, ReadInBlocksAreTheSameInVolts) {
    Record record;
    record.rate = SampleRate{48000.0};
    record.bits = 24;
    record.channels.resize(3);
    for (std::int32_t n = 0; n < 10000; ++n) {
        for (std::size_t c = 0; c < 3; ++c) {
            record.channels[c].push_back((n * 7919 + static_cast<std::int32_t>(c) * 31) % 8000000);
        }
    }
    ASSERT_TRUE(write_record(path("three.flac"), record));
    auto reader = RecordingReader::open(path("three.flac"));
    ASSERT_TRUE(reader) << reader.error().what;
    EXPECT_EQ(reader->channels(), 3U);
    EXPECT_EQ(reader->bits(), 24);
    EXPECT_EQ(reader->frames(), Frames{10000});
    const std::vector<double> volts{1.0, 40.0, 8.0};
    std::vector<std::vector<double>> block(3, std::vector<double>(4999));
    const std::vector<std::span<double>> into(block.begin(), block.end());
    std::size_t frames = 0;
    for (const std::size_t expected : {4999U, 4999U, 2U, 0U}) {
        const std::size_t got = reader->read(into, volts);
        ASSERT_EQ(got, expected);
        for (std::size_t i = 0; i < got; ++i) {
            for (std::size_t c = 0; c < 3; ++c) {
                ASSERT_DOUBLE_EQ(block[c][i],
                                 volts[c] * record.channels[c][frames + i] / 8388608.0);
            }
        }
        frames += got;
    }
    EXPECT_FALSE(reader->truncated());
    EXPECT_FALSE(reader->grew());
}

TEST_F(Recordings, AFileThatStillGrowsIsSeenToGrow) {
    Record record;
    record.rate = SampleRate{48000.0};
    record.bits = 32;
    record.channels = {std::vector<std::int32_t>(1000, 5)};
    ASSERT_TRUE(write_record(path("growing.rf64"), record));
    const auto reader = RecordingReader::open(path("growing.rf64"));
    ASSERT_TRUE(reader);
    std::ofstream{path("growing.rf64"), std::ios::app | std::ios::binary} << "more";
    EXPECT_TRUE(reader->grew());
}

}  // namespace
}  // namespace afterload::instruments
