/// One direction of a sound card: the one door to ALSA's PCM interface (libasound).
///
/// Whatever the card's own format, samples here are 32-bit integers with the highest bit of the
/// card's at the top, frame by frame.
#pragma once

#include "analysis/quantity.hpp"
#include "instruments/failure.hpp"

#include <cstddef>
#include <cstdint>
#include <memory>
#include <optional>
#include <span>
#include <string>

namespace afterload::instruments {

struct PcmSettings {
    std::string device;  ///< as ALSA names it: "hw:CARD=Interface,DEV=0"
    SampleRate rate{48000.0};
    int bits = 24;     ///< significant bits wanted at least, 16 to 32
    int channels = 2;  ///< at least
    /// An audio server may stand where a sound card is meant: what is behind its name may resample.
    bool stand_in = false;
};

class Pcm {
public:
    enum class Direction { play, record };
    enum class Outcome {
        moved,     ///< frames went through; none at all when the card was not ready
        stopped,   ///< by itself, an overrun or an underrun: frames are missing, or were not played
        vanished,  ///< unplugged, the server is gone, or it does not start again
    };
    struct Moved {
        Outcome outcome = Outcome::moved;
        std::size_t frames = 0;
        std::string why;  ///< where vanished: what ALSA said
    };

    /// Opens the device for itself alone, without resampling, and reads back what it got.
    ///
    /// Fails with `refused` for a rate, channels or bits that the device does not have (and says
    /// which it has), for a device that another program holds, and for one that is no hardware
    /// where `stand_in` does not allow that; with `lost` where there is no such device.
    [[nodiscard]] static BenchResult<std::unique_ptr<Pcm>> open(const PcmSettings& settings,
                                                                Direction direction);
    ~Pcm();
    Pcm(const Pcm&) = delete;
    Pcm& operator=(const Pcm&) = delete;

    /// "24 bits in S32_LE, 2 channels, 48000 Hz, buffer 4096 frames", as read back.
    [[nodiscard]] const std::string& format() const { return format_; }
    [[nodiscard]] int bits() const { return bits_; }  ///< significant, as the card says
    [[nodiscard]] int channels() const { return channels_; }
    [[nodiscard]] std::size_t buffer() const { return buffer_; }  ///< frames
    [[nodiscard]] std::size_t period() const { return period_; }  ///< frames

    /// Starts at once, empty or not.
    [[nodiscard]] Moved start();
    /// After it stopped: ready to start again. False: it is not, the card has vanished.
    [[nodiscard]] bool prepare();
    /// Stops at once; what waits to be played is dropped.
    void drop();
    /// Waits until frames can be moved, at most so long.
    void wait(Seconds at_most);

    /// Reads what is there, at most what fits `interleaved` (a whole number of frames).
    [[nodiscard]] Moved read(std::span<std::int32_t> interleaved);
    /// Writes as much of `interleaved` as there is room for.
    [[nodiscard]] Moved write(std::span<const std::int32_t> interleaved);
    /// Frames between this end of the buffer and the terminals; nothing where ALSA does not know.
    [[nodiscard]] std::optional<std::int64_t> delay() const;
    /// Frames that could be written or read now.
    [[nodiscard]] Moved ready() const;

private:
    struct Handle;
    Pcm();
    std::unique_ptr<Handle> handle_;
    std::string format_;
    int bits_ = 0;
    int channels_ = 0;
    std::size_t buffer_ = 0;
    std::size_t period_ = 0;
};

}  // namespace afterload::instruments
