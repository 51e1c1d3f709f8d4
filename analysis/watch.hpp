/// A signal of any length watched in blocks, in memory that does not grow: what happened, when, how
/// large, and who is to blame.
#pragma once

#include "analysis/quality_watch.hpp"
#include "analysis/quantity.hpp"
#include "analysis/watch_event.hpp"

#include <cstdint>
#include <memory>
#include <optional>
#include <span>
#include <vector>

namespace afterload::analysis {

/// What is watched, and how it is read.
struct WatchSettings {
    SampleRate rate;
    std::vector<VoltsPeak> full_scale;  ///< one a channel: where its converter ends
    std::optional<Hertz> tone;          ///< nominal, met within 3 %; absent: the strongest line
    std::optional<Hertz> mains;         ///< 50 or 60 Hz; absent: hum is not watched
};

struct WatchSummary {
    Frames frames;                ///< fed so far
    bool signal_found = false;    ///< was there ever a tone
    std::int64_t not_finite = 0;  ///< pieces with NaN or infinity, watched as if they held zeros
    Seconds first_not_finite;     ///< where the first of them begins
    std::size_t events_left_out = 0;  ///< beyond the most that are kept
    std::vector<UnwatchedPart> unwatched;
    std::vector<bool> driven;              ///< has the channel a tone of its own
    std::vector<ChannelFigures> channels;  ///< one each
};

/// The watch. Every sample is looked at; blocks may have any length.
///
/// The tone is found in the first half second that holds one. From then on it is fitted in pieces
/// of a few whole cycles (near 2.5 ms, at least two cycles) and followed in level and phase:
///
/// level, dropout  a step of 0.3 dB or more, to the sample; for tones from 200 Hz on down to 5 ms,
///                 one period below. A level that moves slowly is no event. A phase that jumps by
///                 no whole number of samples is a level event of about 0 dB.
/// gap, repeat     the phase jumps by whole samples in all driven channels and the level stays. The
///                 count is known modulo the tone's period: the smallest that fits is told.
/// clipping        two or more samples together at the converter's end.
/// hum             the mains lines rise by 6 dB, in windows of 0.1 s, against the first second.
/// Pieces
///                 must be shorter than half a cycle of a line: orders 1 to 3 of 50 Hz for tones
///                 from 670 Hz on, order 1 from 220 Hz on, none below or nearer than 12 Hz to the
///                 tone's own lines.
/// distortion      harmonics 2 to 5 double, likewise.
/// noise           what else there is rises by 5 dB for two pieces, or far higher in one.
/// offset          the mean moves by 0.25 % of the tone within a tenth of a second. A card that is
///                 coupled through a capacitor shows only the step.
///
/// Rises of less than 3·10⁻⁵ of the tone are none. A channel whose tone is below a tenth of the
/// loudest is not driven: its level and phase are not watched.
///
/// Memory: 0.3 s of every channel (a dozen periods of a low tone), the longest block, and up to
/// `most_events` events.
class Watch {
public:
    static constexpr std::size_t most_events = 10000;

    explicit Watch(WatchSettings settings);
    ~Watch();
    Watch(Watch&&) noexcept;
    Watch& operator=(Watch&&) noexcept;

    /// The next block, one span of volts a channel, all of one length.
    void feed(std::span<const std::span<const double>> channels);

    /// No more comes: what lasts is ended.
    void finish();

    /// So far, in the order of their start; what still lasts is there only after finish().
    [[nodiscard]] std::vector<WatchEvent> events() const;
    [[nodiscard]] WatchSummary summary() const;

    /// As events(), with what still lasts as if it ended with the last sample. For one who acts at
    /// once: what is told so may yet be told otherwise.
    [[nodiscard]] std::vector<WatchEvent> events_and_lasting() const;
    /// Changes when events() does.
    [[nodiscard]] std::size_t events_so_far() const;
    /// Does anything last?
    [[nodiscard]] bool lasting() const;
    /// Of one channel, the last tenth of a second that could be read.
    [[nodiscard]] QualityWatch::Latest latest(std::size_t channel) const;

private:
    class State;
    std::unique_ptr<State> state_;
};

}  // namespace afterload::analysis
