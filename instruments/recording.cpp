#include "instruments/recording.hpp"

#include <sndfile.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <filesystem>
#include <memory>

namespace afterload::instruments {
namespace {

struct CloseSndfile {
    void operator()(SNDFILE* file) const { sf_close(file); }
};
using SoundFile = std::unique_ptr<SNDFILE, CloseSndfile>;

constexpr sf_count_t block_frames = 65536;
constexpr std::int64_t most_samples = std::int64_t{1} << 31;

tl::unexpected<RecordingFailure> failure(const std::string& path, std::string what) {
    return tl::unexpected(RecordingFailure{path, std::move(what)});
}

struct SampleFormat {
    int bits = 0;
    bool floating = false;
};

SampleFormat sample_format(int format) {
    switch (format & SF_FORMAT_SUBMASK) {
        case SF_FORMAT_PCM_S8:
        case SF_FORMAT_PCM_U8:
        case SF_FORMAT_ULAW:
        case SF_FORMAT_ALAW:
            return {8, false};
        case SF_FORMAT_PCM_16:
            return {16, false};
        case SF_FORMAT_PCM_24:
            return {24, false};
        case SF_FORMAT_PCM_32:
            return {32, false};
        case SF_FORMAT_FLOAT:
            return {32, true};
        case SF_FORMAT_DOUBLE:
            return {64, true};
        default:
            return {};
    }
}

/// libsndfile quietly shortens a data chunk that promises more than the file holds; its log tells.
bool shortened(SNDFILE* file) {
    std::array<char, 4096> log{};
    sf_command(file, SFC_GET_LOG_INFO, log.data(), static_cast<int>(log.size()) - 1);
    const std::string text{log.data()};
    const auto data = text.find("data :");
    return data != std::string::npos && text.find("should be", data) != std::string::npos;
}

struct Opened {
    SoundFile file;
    SF_INFO info{};
};

tl::expected<Opened, RecordingFailure> open_to_read(const std::string& path) {
    std::error_code error;
    const auto size = std::filesystem::file_size(path, error);
    if (error) {
        return failure(path, "cannot be read: " + error.message());
    }
    if (size == 0) {
        return failure(path, "is empty: nothing was recorded; record again");
    }
    Opened opened;
    opened.file.reset(sf_open(path.c_str(), SFM_READ, &opened.info));
    if (!opened.file) {
        return failure(path, "is not a sound file that can be read (WAV, RF64 or FLAC are)");
    }
    if (opened.info.frames <= 0) {
        return failure(path, "holds no frames: nothing was recorded; record again");
    }
    if (opened.info.channels > 8) {
        return failure(path, "has " + std::to_string(opened.info.channels) +
                                 " channels; at most 8 can be analysed");
    }
    if (opened.info.frames > most_samples / opened.info.channels) {
        return failure(path, "is too long to be read whole");
    }
    return opened;
}

}  // namespace

tl::expected<Recording, RecordingFailure> read_recording(const std::string& path) {
    auto opened = open_to_read(path);
    if (!opened) {
        return tl::unexpected(opened.error());
    }
    const SF_INFO& info = opened->info;
    const SampleFormat format = sample_format(info.format);
    if (format.bits == 8) {
        return failure(path,
                       "has 8 bits a sample, too coarse for any figure; record with 16 or 24");
    }
    if (format.bits == 0) {
        return failure(path, "is compressed with loss; record WAV, RF64 or FLAC");
    }
    Recording recording;
    recording.rate = SampleRate{static_cast<double>(info.samplerate)};
    recording.bits = format.bits;
    recording.floating = format.floating;
    recording.truncated = shortened(opened->file.get());
    const auto channels = static_cast<std::size_t>(info.channels);
    recording.channels.resize(channels);
    for (auto& channel : recording.channels) {
        channel.reserve(static_cast<std::size_t>(info.frames));
    }
    // Integers are read as integers and scaled by 2^31 here: libsndfile's own scale is 2^31 - 1.
    std::vector<int> whole(format.floating ? 0 : static_cast<std::size_t>(block_frames) * channels);
    std::vector<double> fractions(
        format.floating ? static_cast<std::size_t>(block_frames) * channels : 0);
    const double scale = std::ldexp(1.0, -31);
    while (true) {
        const sf_count_t got =
            format.floating ? sf_readf_double(opened->file.get(), fractions.data(), block_frames)
                            : sf_readf_int(opened->file.get(), whole.data(), block_frames);
        for (std::size_t i = 0; i < static_cast<std::size_t>(got) * channels; ++i) {
            recording.channels[i % channels].push_back(format.floating ? fractions[i]
                                                                       : scale * whole[i]);
        }
        if (got < block_frames) {
            break;
        }
    }
    if (recording.channels.front().size() < static_cast<std::size_t>(info.frames)) {
        recording.truncated = true;
    }
    if (recording.channels.front().empty()) {
        return failure(path, "is damaged: not one frame can be read");
    }
    return recording;
}

std::string record_ending(int bits) {
    return bits <= 24 ? ".flac" : ".rf64";
}

tl::expected<void, RecordingFailure> write_record(const std::string& path, const Record& record) {
    SF_INFO info{};
    info.samplerate = static_cast<int>(std::lround(record.rate.frequency().in<Hertz>()));
    info.channels = static_cast<int>(record.channels.size());
    const int stored_bits = record.bits <= 16 ? 16 : (record.bits <= 24 ? 24 : 32);
    info.format = stored_bits == 16   ? SF_FORMAT_FLAC | SF_FORMAT_PCM_16
                  : stored_bits == 24 ? SF_FORMAT_FLAC | SF_FORMAT_PCM_24
                                      : SF_FORMAT_RF64 | SF_FORMAT_PCM_32;
    const SoundFile file{sf_open(path.c_str(), SFM_WRITE, &info)};
    if (!file) {
        return failure(path, std::string{"cannot be written: "} + sf_strerror(nullptr));
    }
    const std::int64_t limit = std::int64_t{1} << (record.bits - 1);
    const std::int64_t to_left = std::int64_t{1} << (32 - stored_bits);
    const std::size_t channels = record.channels.size();
    const auto frames = static_cast<std::size_t>(record.length().count());
    std::vector<int> block;
    for (std::size_t first = 0; first < frames; first += static_cast<std::size_t>(block_frames)) {
        const std::size_t count = std::min(static_cast<std::size_t>(block_frames), frames - first);
        block.resize(count * channels);
        for (std::size_t i = 0; i < count; ++i) {
            for (std::size_t c = 0; c < channels; ++c) {
                const std::int64_t sample = record.channels[c][first + i];
                if (sample < -limit || sample >= limit) {
                    return failure(
                        path, "a sample does not fit its " + std::to_string(record.bits) + " bits");
                }
                block[i * channels + c] = static_cast<int>(sample * to_left);
            }
        }
        // Only the count tells of a full disk: libsndfile closes such a file without an error.
        if (sf_writef_int(file.get(), block.data(), static_cast<sf_count_t>(count)) !=
            static_cast<sf_count_t>(count)) {
            return failure(path, "could not be written whole: is the disk full?");
        }
    }
    return {};
}

tl::expected<Record, RecordingFailure> read_record(const std::string& path) {
    auto opened = open_to_read(path);
    if (!opened) {
        return tl::unexpected(opened.error());
    }
    const SampleFormat format = sample_format(opened->info.format);
    if (format.floating || format.bits < 16) {
        return failure(path, "is not a stored record: integers of 16 bits or more are");
    }
    Record record;
    record.rate = SampleRate{static_cast<double>(opened->info.samplerate)};
    record.bits = format.bits;
    const auto channels = static_cast<std::size_t>(opened->info.channels);
    record.channels.resize(channels);
    std::vector<int> block(static_cast<std::size_t>(block_frames) * channels);
    const int shift = 32 - format.bits;
    while (true) {
        const sf_count_t got = sf_readf_int(opened->file.get(), block.data(), block_frames);
        for (std::size_t i = 0; i < static_cast<std::size_t>(got) * channels; ++i) {
            record.channels[i % channels].push_back(block[i] >> shift);
        }
        if (got < block_frames) {
            break;
        }
    }
    if (record.length().count() < opened->info.frames) {
        return failure(path, "is damaged: it holds fewer frames than its header says");
    }
    return record;
}

}  // namespace afterload::instruments
