#include "instruments/recording.hpp"

#include <sndfile.h>

#include <algorithm>
#include <array>
#include <bit>
#include <cmath>
#include <cstdio>
#include <cstring>
#include <filesystem>
#include <memory>

namespace afterload::instruments {
namespace {

struct CloseSndfile {
    void operator()(SNDFILE* file) const { sf_close(file); }
};
using SoundFile = std::unique_ptr<SNDFILE, CloseSndfile>;

constexpr sf_count_t block_frames = 65536;
constexpr sf_count_t slice_frames = 8192;  // stays in near memory on its way
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

/// Bytes of a sample where the samples stand in the file as they are, least byte first: those are
/// read as they stand, at half the cost. 0: libsndfile takes them apart.
std::size_t plain_bytes(int format) {
    const int major = format & SF_FORMAT_TYPEMASK;
    const bool wave = major == SF_FORMAT_WAV || major == SF_FORMAT_WAVEX || major == SF_FORMAT_RF64;
    const int order = format & SF_FORMAT_ENDMASK;
    if (!wave || order == SF_ENDIAN_BIG || std::endian::native != std::endian::little) {
        return 0;
    }
    switch (format & SF_FORMAT_SUBMASK) {
        case SF_FORMAT_PCM_16:
            return 2;
        case SF_FORMAT_PCM_24:
            return 3;
        case SF_FORMAT_PCM_32:
            return 4;
        default:
            return 0;
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

/// Samples of two to four bytes as whole numbers of 32 bits: before the first there is room for two
/// more bytes.
template <std::size_t bytes>
struct Plain {
    const unsigned char* first;

    std::int32_t operator[](std::size_t index) const {
        std::uint32_t word = 0;
        std::memcpy(&word, first + index * bytes - (sizeof word - bytes), sizeof word);
        constexpr std::uint32_t own = ~std::uint32_t{0} << (8 * (sizeof word - bytes));
        return static_cast<std::int32_t>(word & own);
    }
};

// Channels that stand in turn, each into its own place.
template <class Samples>
void apart(Samples samples, std::size_t frames, std::span<const std::span<double>> into,
           std::size_t at, std::span<const double> scale, double unit) {
    const std::size_t channels = into.size();
    if (channels == 2) {
        double* const left = into[0].data() + at;
        double* const right = into[1].data() + at;
        const double left_unit = scale[0] * unit;
        const double right_unit = scale[1] * unit;
        for (std::size_t n = 0; n < frames; ++n) {
            left[n] = left_unit * static_cast<double>(samples[2 * n]);
            right[n] = right_unit * static_cast<double>(samples[2 * n + 1]);
        }
        return;
    }
    for (std::size_t c = 0; c < channels; ++c) {
        double* const own = into[c].data() + at;
        const double own_unit = scale[c] * unit;
        for (std::size_t n = 0; n < frames; ++n) {
            own[n] = own_unit * static_cast<double>(samples[channels * n + c]);
        }
    }
}

/// The bytes of a sound file, read by libsndfile as if they were one.
struct HeldBytes {
    std::string_view bytes;
    sf_count_t at = 0;

    static HeldBytes& of(void* self) { return *static_cast<HeldBytes*>(self); }
    static sf_count_t length(void* self) { return static_cast<sf_count_t>(of(self).bytes.size()); }
    static sf_count_t tell(void* self) { return of(self).at; }
    static sf_count_t seek(sf_count_t offset, int whence, void* self) {
        const sf_count_t from =
            whence == SEEK_SET ? 0 : (whence == SEEK_CUR ? tell(self) : length(self));
        of(self).at = std::clamp<sf_count_t>(from + offset, 0, length(self));
        return of(self).at;
    }
    static sf_count_t read(void* into, sf_count_t count, void* self) {
        const sf_count_t got = std::min(count, length(self) - tell(self));
        std::memcpy(into, of(self).bytes.data() + tell(self), static_cast<std::size_t>(got));
        of(self).at += got;
        return got;
    }
    static sf_count_t write(const void* /*from*/, sf_count_t /*count*/, void* /*self*/) {
        return 0;
    }
};

struct Opened {
    std::unique_ptr<HeldBytes> held;  // outlives the file that reads it
    SoundFile file;
    SF_INFO info{};
};

constexpr const char* empty_file = "is empty: nothing was recorded; record again";

tl::expected<Opened, RecordingFailure> readable(const std::string& path, Opened opened) {
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
    return opened;
}

tl::expected<Opened, RecordingFailure> open_to_read(const std::string& path) {
    std::error_code error;
    const auto kind = std::filesystem::status(path, error).type();
    if (kind == std::filesystem::file_type::fifo || kind == std::filesystem::file_type::socket ||
        kind == std::filesystem::file_type::character) {
        return failure(path, "is a pipe or a device: record into a file first");
    }
    const auto size = std::filesystem::file_size(path, error);
    if (error) {
        return failure(path, "cannot be read: " + error.message());
    }
    if (size == 0) {
        return failure(path, empty_file);
    }
    Opened opened;
    opened.file.reset(sf_open(path.c_str(), SFM_READ, &opened.info));
    return readable(path, std::move(opened));
}

tl::expected<Opened, RecordingFailure> open_held(const std::string& name, std::string_view bytes) {
    if (bytes.empty()) {
        return failure(name, empty_file);
    }
    Opened opened;
    opened.held = std::make_unique<HeldBytes>(HeldBytes{bytes});
    SF_VIRTUAL_IO calls{&HeldBytes::length, &HeldBytes::seek, &HeldBytes::read, &HeldBytes::write,
                        &HeldBytes::tell};
    opened.file.reset(sf_open_virtual(&calls, SFM_READ, &opened.info, opened.held.get()));
    return readable(name, std::move(opened));
}

tl::expected<void, RecordingFailure> fits_whole(const std::string& path, sf_count_t frames,
                                                std::size_t channels) {
    if (frames > most_samples / static_cast<sf_count_t>(channels)) {
        return failure(path, "is too long to be read whole: --watch reads it in blocks");
    }
    return {};
}

}  // namespace

struct RecordingReader::State {
    std::string path;
    Opened opened;
    SampleFormat format;
    std::uintmax_t bytes = 0;
    sf_count_t got = 0;
    bool at_end = false;
    bool shortened = false;
    std::vector<int> whole;
    std::vector<double> fractions;
    std::size_t plain = 0;
    std::vector<unsigned char> bytes_read;

    /// Reads up to `ask` frames as they stand in the file.
    template <std::size_t bytes>
    sf_count_t read_plain(sf_count_t ask, std::span<const std::span<double>> into, std::size_t done,
                          std::span<const double> scale) {
        constexpr std::size_t room = sizeof(std::uint32_t) - bytes;
        const std::size_t frame = bytes * into.size();
        bytes_read.resize(room + frame * static_cast<std::size_t>(slice_frames));
        unsigned char* const first = bytes_read.data() + room;
        const sf_count_t frames =
            sf_read_raw(opened.file.get(), first, ask * static_cast<sf_count_t>(frame)) /
            static_cast<sf_count_t>(frame);
        apart(Plain<bytes>{first}, static_cast<std::size_t>(frames), into, done, scale,
              std::ldexp(1.0, -31));
        return frames;
    }

    sf_count_t read_slice(sf_count_t ask, std::span<const std::span<double>> into, std::size_t done,
                          std::span<const double> scale) {
        switch (plain) {
            case 2:
                return read_plain<2>(ask, into, done, scale);
            case 3:
                return read_plain<3>(ask, into, done, scale);
            case 4:
                return read_plain<4>(ask, into, done, scale);
            default:
                break;
        }
        const std::size_t room = static_cast<std::size_t>(slice_frames) * into.size();
        if (format.floating) {
            fractions.resize(room);
            const sf_count_t frames = sf_readf_double(opened.file.get(), fractions.data(), ask);
            apart(fractions.data(), static_cast<std::size_t>(frames), into, done, scale, 1.0);
            return frames;
        }
        // Integers are read as integers and scaled by 2^31: libsndfile's own scale is 2^31 - 1.
        whole.resize(room);
        const sf_count_t frames = sf_readf_int(opened.file.get(), whole.data(), ask);
        apart(whole.data(), static_cast<std::size_t>(frames), into, done, scale,
              std::ldexp(1.0, -31));
        return frames;
    }
};

RecordingReader::RecordingReader(std::unique_ptr<State> state) : state_{std::move(state)} {}
RecordingReader::~RecordingReader() = default;
RecordingReader::RecordingReader(RecordingReader&&) noexcept = default;
RecordingReader& RecordingReader::operator=(RecordingReader&&) noexcept = default;

tl::expected<RecordingReader, RecordingFailure> RecordingReader::open(const std::string& path) {
    auto state = std::make_unique<State>();
    state->path = path;
    auto opened = open_to_read(path);
    if (!opened) {
        return tl::unexpected(opened.error());
    }
    state->opened = *std::move(opened);
    std::error_code error;
    state->bytes = std::filesystem::file_size(path, error);
    return usable(std::move(state));
}

tl::expected<RecordingReader, RecordingFailure> RecordingReader::open_bytes(
    const std::string& name, std::string_view bytes) {
    auto state = std::make_unique<State>();
    state->path = name;
    auto opened = open_held(name, bytes);
    if (!opened) {
        return tl::unexpected(opened.error());
    }
    state->opened = *std::move(opened);
    return usable(std::move(state));
}

tl::expected<RecordingReader, RecordingFailure> RecordingReader::usable(
    std::unique_ptr<State> state) {
    const std::string& path = state->path;
    state->format = sample_format(state->opened.info.format);
    if (state->format.bits == 8) {
        return failure(path,
                       "has 8 bits a sample, too coarse for any figure; record with 16 or 24");
    }
    if (state->format.bits == 0) {
        return failure(path, "is compressed with loss; record WAV, RF64 or FLAC");
    }
    state->plain = plain_bytes(state->opened.info.format);
    state->shortened = shortened(state->opened.file.get());
    return RecordingReader{std::move(state)};
}

SampleRate RecordingReader::rate() const {
    return SampleRate{static_cast<double>(state_->opened.info.samplerate)};
}
int RecordingReader::bits() const {
    return state_->format.bits;
}
bool RecordingReader::floating() const {
    return state_->format.floating;
}
std::size_t RecordingReader::channels() const {
    return static_cast<std::size_t>(state_->opened.info.channels);
}
std::optional<Frames> RecordingReader::frames() const {
    const sf_count_t frames = state_->opened.info.frames;
    return frames == SF_COUNT_MAX ? std::nullopt : std::optional{Frames{frames}};
}

std::size_t RecordingReader::read(std::span<const std::span<double>> into,
                                  std::span<const double> scale) {
    State& state = *state_;
    const std::size_t wanted = into.front().size();
    std::size_t done = 0;
    while (done < wanted && !state.at_end) {
        const auto ask = static_cast<sf_count_t>(
            std::min<std::size_t>(static_cast<std::size_t>(slice_frames), wanted - done));
        const sf_count_t got = state.read_slice(ask, into, done, scale);
        state.at_end = got < ask;
        state.got += got;
        done += static_cast<std::size_t>(got);
    }
    return done;
}

bool RecordingReader::truncated() const {
    return state_->shortened || (state_->at_end && state_->got < state_->opened.info.frames);
}

bool RecordingReader::grew() const {
    if (state_->opened.held) {
        return false;
    }
    std::error_code error;
    const auto now = std::filesystem::file_size(state_->path, error);
    return !error && now > state_->bytes;
}

tl::expected<Recording, RecordingFailure> read_recording(const std::string& path) {
    auto reader = RecordingReader::open(path);
    if (!reader) {
        return tl::unexpected(reader.error());
    }
    const auto promised = reader->frames().value_or(Frames{SF_COUNT_MAX}).count();
    if (const auto fits = fits_whole(path, promised, reader->channels()); !fits) {
        return tl::unexpected(fits.error());
    }
    Recording recording;
    recording.rate = reader->rate();
    recording.bits = reader->bits();
    recording.floating = reader->floating();
    recording.channels.resize(reader->channels());
    const std::vector<double> scale(reader->channels(), 1.0);
    // Grows with what is there: a header may promise anything.
    std::vector<std::span<double>> into(reader->channels());
    std::size_t got = 0;
    std::size_t block = 0;
    do {
        for (std::size_t c = 0; c < into.size(); ++c) {
            recording.channels[c].resize(got + static_cast<std::size_t>(block_frames));
            into[c] = std::span{recording.channels[c]}.subspan(got);
        }
        block = reader->read(into, scale);
        got += block;
    } while (block == static_cast<std::size_t>(block_frames));
    for (auto& channel : recording.channels) {
        channel.resize(got);
    }
    recording.truncated = reader->truncated();
    if (got == 0) {
        return failure(path, "is damaged: not one frame can be read");
    }
    if (reader->grew()) {
        return failure(path, "still grows: end the recording first");
    }
    return recording;
}

std::string record_ending(int bits) {
    return bits <= 24 ? ".flac" : ".rf64";
}

namespace {

tl::expected<void, RecordingFailure> write_samples(const std::string& path, const Record& record) {
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

}  // namespace

tl::expected<void, RecordingFailure> write_record(const std::string& path, const Record& record) {
    if (auto written = write_samples(path, record); !written) {
        return written;
    }
    // libsndfile writes the header a last time when it closes the file, and does not say how that
    // went.
    const auto back = read_record(path);
    if (!back || back->channels != record.channels) {
        return failure(path, "does not hold what was measured: is the disk failing?");
    }
    return {};
}

tl::expected<Record, RecordingFailure> read_record(const std::string& path) {
    auto opened = open_to_read(path);
    if (!opened) {
        return tl::unexpected(opened.error());
    }
    if (const auto fits =
            fits_whole(path, opened->info.frames, static_cast<std::size_t>(opened->info.channels));
        !fits) {
        return tl::unexpected(fits.error());
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
