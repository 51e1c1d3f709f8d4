/// Both directions of a sound card, running from its opening to its closing on one count of frames.
///
/// A thread of its own plays silence or a stimulus and takes every captured frame; the rest of the
/// program asks through the calls below, which never wait for the card. A program that stalls stops
/// feeding the card, which then falls silent by itself.
#pragma once

#include "analysis/capture_fault.hpp"
#include "analysis/stimulus.hpp"
#include "instruments/card/pcm.hpp"
#include "instruments/failure.hpp"

#include <array>
#include <atomic>
#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <thread>
#include <vector>

namespace afterload::instruments {

struct CardSettings {
    PcmSettings pcm;
    VoltsPeak full_scale{1.0};        ///< open-circuit volts of a full-scale sine's peak
    std::array<int, 2> play{1, 2};    ///< channels of the card, from 1, that feed left and right
    std::array<int, 2> record{1, 2};  ///< and those that sense left and right
};

/// Frames of the two sense channels, as they come in: integers of bits() bits, right-aligned.
struct CardRecording {
    std::int64_t first = 0;  ///< number of the captured frame it begins with
    std::size_t frames = 0;  ///< wanted
    std::vector<std::vector<std::int32_t>> channels;
    std::vector<CaptureFault> faults;  ///< located, from the start of the recording
    Seconds began;                     ///< monotonic, when its first frame had come in
    Seconds ended;                     ///< and its last
    std::atomic<bool> done{false};     ///< set last, by the card's thread
};

/// What the card did since it was opened.
struct CardCount {
    std::int64_t played = 0;            ///< frames handed over
    std::int64_t captured = 0;          ///< frames taken
    int underruns = 0;                  ///< of playing
    int overruns = 0;                   ///< of capture
    std::vector<std::int64_t> lost_at;  ///< captured frame behind each overrun, the first thousand
    std::vector<std::int64_t> starved_at;  ///< captured frame at which each underrun was seen
    Seconds since;                         ///< monotonic, at the first captured frame
    Seconds now;                           ///< monotonic, at the last
};

class CardStream {
public:
    /// Fails as Pcm::open().
    [[nodiscard]] static BenchResult<std::unique_ptr<CardStream>> open(CardSettings settings);
    ~CardStream();
    CardStream(const CardStream&) = delete;
    CardStream& operator=(const CardStream&) = delete;

    /// Plays `stimulus` as soon as it can. The captured frame at which its first sample arrives,
    /// from what the card says of its own delays.
    [[nodiscard]] std::int64_t play(Stimulus stimulus);
    /// Records `frames` from captured frame `first` on, or from now on where that has passed.
    [[nodiscard]] std::shared_ptr<CardRecording> record(std::int64_t first, std::size_t frames);
    /// Frames from a sample that is handed over now to its capture, as the card says.
    [[nodiscard]] std::int64_t latency() const;
    [[nodiscard]] CardCount count() const;
    [[nodiscard]] std::int64_t captured() const;  ///< of count(), for looks that come often
    /// Why nothing goes on any more; nothing while it does.
    [[nodiscard]] std::optional<BenchFailure> failure() const;
    /// Every block of captured frames as it comes in, on the card's thread: for a soak that never
    /// stops watching. Nothing: none is called.
    using Watcher = std::function<void(std::int64_t first,
                                       const std::vector<std::vector<std::int32_t>>& channels)>;
    void on_block(Watcher watcher);

    [[nodiscard]] int bits() const;
    [[nodiscard]] SampleRate rate() const;
    [[nodiscard]] std::string format() const;  ///< of both directions, as read back

private:
    class Work;
    explicit CardStream(std::shared_ptr<Work> work);
    std::shared_ptr<Work> work_;
    std::thread thread_;
};

}  // namespace afterload::instruments
