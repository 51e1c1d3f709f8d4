/// Wave files in and out; the one door to libsndfile.
#pragma once

#include "analysis/quantity.hpp"
#include "analysis/waveform.hpp"

#include <tl/expected.hpp>

#include <cstdint>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace afterload::instruments {

/// Why a file could not be read or written: one line that says what to do.
struct RecordingFailure {
    std::string path;
    std::string what;
};

/// A recording from elsewhere. Samples are fractions of digital full scale, -1 … 1, one vector a
/// channel; they may hold NaN or infinity when the file does.
struct Recording {
    SampleRate rate;
    int bits = 0;  ///< 16, 24, 32; 32 and 64 for float files
    bool floating = false;
    std::vector<std::vector<double>> channels;
    bool truncated = false;  ///< the header promises more frames than the file holds
};

/// A recording read in blocks: one of any length, in memory that does not grow.
class RecordingReader {
public:
    /// Fails   not there, not a file (a pipe), empty, not a sound file, no frames, 8 bits a sample,
    ///         compressed with loss, more than 8 channels.
    [[nodiscard]] static tl::expected<RecordingReader, RecordingFailure> open(
        const std::string& path);
    /// The same from the bytes of such a file, which stay where they are while it reads.
    [[nodiscard]] static tl::expected<RecordingReader, RecordingFailure> open_bytes(
        const std::string& name, std::string_view bytes);
    ~RecordingReader();
    RecordingReader(RecordingReader&&) noexcept;
    RecordingReader& operator=(RecordingReader&&) noexcept;

    [[nodiscard]] SampleRate rate() const;
    [[nodiscard]] int bits() const;  ///< 16, 24, 32; 32 and 64 for float files
    [[nodiscard]] bool floating() const;
    [[nodiscard]] std::size_t channels() const;
    /// As the header says; absent where it does not know, as in a FLAC that was cut off.
    [[nodiscard]] std::optional<Frames> frames() const;

    /// Reads the next frames into `into`, one span a channel, all of one length, each sample times
    /// `scale` of its channel: with volts peak at full scale it reads volts. Gives the frames read;
    /// fewer than asked for is the end.
    [[nodiscard]] std::size_t read(std::span<const std::span<double>> into,
                                   std::span<const double> scale);

    /// At the end: the header promises more frames than there were.
    [[nodiscard]] bool truncated() const;
    /// The file grew since it was opened: somebody still records into it.
    [[nodiscard]] bool grew() const;

private:
    struct State;
    explicit RecordingReader(std::unique_ptr<State> state);
    [[nodiscard]] static tl::expected<RecordingReader, RecordingFailure> usable(
        std::unique_ptr<State> state);
    std::unique_ptr<State> state_;
};

/// Reads WAV, RF64, FLAC and what else libsndfile knows, 1 to 8 channels, whole.
///
/// Fails   not there, empty, not a sound file, no frames, 8 bits a sample, more than 8 channels,
/// more
///         than 2^31 samples; it still grows.
[[nodiscard]] tl::expected<Recording, RecordingFailure> read_recording(const std::string& path);

/// The name a stored record gets: FLAC up to 24 bits, RF64 above.
[[nodiscard]] std::string record_ending(int bits);

/// Writes the integers of `record` exactly as they are, and reads them back.
///
/// Fails   the disk is full (short count) or fails (another record comes back), a sample is outside
///         `bits`.
[[nodiscard]] tl::expected<void, RecordingFailure> write_record(const std::string& path,
                                                                const Record& record);

/// Reads the integers back. Calibration is not in the file: the caller fills it.
[[nodiscard]] tl::expected<Record, RecordingFailure> read_record(const std::string& path);

}  // namespace afterload::instruments
