/// A unit watched against what is played into it, all the time: a soak's eyes.
#pragma once

#include "analysis/level.hpp"
#include "analysis/quantity.hpp"
#include "analysis/soak/soak_event.hpp"

#include <cstdint>
#include <memory>
#include <optional>
#include <span>
#include <vector>

namespace afterload::analysis {

/// What is played, told by who plays it.
struct WatchedStimulus {
    enum class Kind {
        tone,     ///< one steady sine
        signal,   ///< anything else that is known sample by sample: noise, music, multitone
        silence,  ///< nothing: drive off
    };
    Kind kind = Kind::silence;
    std::optional<Hertz> tone;  ///< nominal, of a tone; absent: found
};

struct StimulusWatchSettings {
    SampleRate rate;
    std::vector<VoltsPeak> full_scale;  ///< one a record channel, at the unit's terminals
    std::optional<Hertz> mains;         ///< 50 or 60 Hz; absent: hum is not watched

    /// Of a signal: how long is learnt from. The gain is learnt as a short filter in two bands.
    Seconds reference{4.0};
    /// A step of the gain by this much or more is an event; more where the unit's own scatter in
    /// the reference, times eight, is more. Tones: 0.3 dB, see watch.hpp.
    Gain least_step{0.2};
    /// A step of the mean by this much or more is an event; more where eight times the scatter of
    /// the mean is more.
    VoltsDc least_offset{0.02};
};

/// Means of one channel over about a second; absent where the signal does not show it.
struct ChannelReading {
    std::optional<Gain> gain;          ///< volts at the unit per volt of the stimulus
    std::optional<Gain> gain_away;     ///< of that, from the reference
    Gain gain_sigma;                   ///< standard deviation of `gain`, from the scatter of blocks
    VoltsRms level;                    ///< of all there is, mean taken off
    VoltsPeak peak;                    ///< largest magnitude
    VoltsDc offset;                    ///< mean, what the stimulus makes taken off
    std::optional<double> distortion;  ///< harmonics 2 to 5 over the tone, ratio
    /// What is not the stimulus' own, mains lines included.
    std::optional<VoltsRms> residual;
    std::optional<VoltsRms> hum;  ///< the mains lines together
};

struct SoakReading {
    Seconds start;  ///< since the watch began
    Seconds duration;
    WatchedStimulus::Kind kind = WatchedStimulus::Kind::silence;
    /// A reference is being learnt, or what is played became another within this second: it says
    /// nothing of the unit, and gain_away and events are absent.
    bool learning = false;
    std::vector<ChannelReading> channels;
    /// Gain of channel 1 over that of channel 2, less the same in the reference.
    std::optional<Gain> channel_difference;
};

/// The watch of a soak. It is fed without a gap: volts of every record channel, and beside them the
/// volts that the source plays in the same frames. A latency between the two, as every card has,
/// is learnt (up to 0.35 s). Both are on one clock, as the two directions of a card are: a source
/// on a clock of its own is to be given as it was played in the record's frames.
///
/// Tone     as `Watch` does (watch.hpp): to the millisecond, dropouts down to 5 ms from 200 Hz on.
///          The tone must stand still for a tenth of a second before it is watched.
/// Signal   in blocks of 27 ms. Both sides are reduced to 150 Hz … 2 kHz, where a filter that was
/// learnt in the reference foretells the record; its projection gives the
///          gain to some hundredths of a decibel, however the level of a music moves. Blocks in
///          which too little is played for that are passed over. Below, to about 100 Hz, a second
///          filter of a third of a second takes out what the coupling capacitors make of the
///          stimulus, so that offset and mains lines show. Above, only dropouts, clipping and the
///          power of what is not the stimulus' own are seen.
/// Silence  noise, mains lines, offset against the first second.
///
/// level, dropout  the gain moves; below a tenth it is a dropout. The timeline is intact.
/// gap, repeat     the record moves against the stimulus by whole samples in all channels and the
///                 gain stays: the rig.
/// frozen          the source repeats its last buffer (size: its samples), or the card gives one
///                 and the same sample (size: 1): the rig.
/// clipping        the converter at its end: the rig.
/// offset, hum, noise, distortion as in watch.hpp; of a signal, what a unit bends is told as
///                 distortion when it grows with the peaks and as noise otherwise.
///
/// Every event is told within 0.1 s of its beginning; noise, hum, offset and slips within 0.2 s.
/// Hum and offset below what the stimulus itself holds there are seen the finer the longer it was
/// heard: at first to a third of it, after a minute to some hundredths; noise and distortion from a
/// twentieth of what is played on. What a stimulus holds for the first time, as the bass that comes
/// in behind an introduction, is learnt and not watched, in half a second (hum and offset: 4 s).
/// Memory is bounded: 2 s of every channel, and what was not yet taken (take_events(),
/// take_readings()), up to `most_waiting` each.
class StimulusWatch {
public:
    static constexpr std::size_t most_waiting = 10000;

    StimulusWatch(StimulusWatchSettings settings, WatchedStimulus stimulus);
    ~StimulusWatch();
    StimulusWatch(StimulusWatch&&) noexcept;
    StimulusWatch& operator=(StimulusWatch&&) noexcept;

    /// The next block: one span a record channel, and the stimulus of the same frames: one span for
    /// all channels or one a channel, volts at the source, empty in silence. All of one length.
    /// NaN and infinity are watched as zeros and counted.
    void feed(std::span<const std::span<const double>> record,
              std::span<const std::span<const double>> stimulus);

    /// From the next frame on something else is played, or the same at another working point: the
    /// reference is learnt anew, after `settle` in which nothing is watched but the converter.
    void relearn(WatchedStimulus stimulus, Seconds settle = Seconds{0.2});

    /// From the next frame on the drive stands `change` higher, and the stimulus that is fed shows
    /// it: nothing is learnt anew. Of a tone, 0.3 s are passed over; a gain that is another behind
    /// them is an event.
    void drive_changed(Gain change);

    /// Everything fed so far had come by `monotonic`, any origin. Told now and then (each second):
    /// a count of samples that falls behind or runs ahead by more than 2000 ppm or by a lost buffer
    /// is a gap or a repeat, whatever the signal is.
    void came_by(Seconds monotonic);

    /// No more comes: what lasts is ended.
    void finish();

    /// What was told since it was last asked, in the order it was told.
    [[nodiscard]] std::vector<SoakEvent> take_events();
    [[nodiscard]] std::vector<SoakReading> take_readings();

    [[nodiscard]] bool learning() const;                ///< is a reference still being learnt?
    [[nodiscard]] Frames frames() const;                ///< fed so far
    [[nodiscard]] std::int64_t not_finite() const;      ///< samples with NaN or infinity
    [[nodiscard]] std::size_t events_left_out() const;  ///< beyond `most_waiting`
    /// Of a signal that is watched: frames by which the record is behind the stimulus.
    [[nodiscard]] std::optional<double> latency_frames() const;

private:
    class State;
    std::unique_ptr<State> state_;
};

}  // namespace afterload::analysis
