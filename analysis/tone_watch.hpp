/// The tone of all channels watched piece by piece: what happens to level and timeline. See
/// watch.hpp for what counts.
#pragma once

#include "analysis/block_buffer.hpp"
#include "analysis/converter_end.hpp"
#include "analysis/level_ladder.hpp"
#include "analysis/piece_fit.hpp"
#include "analysis/quality_watch.hpp"
#include "analysis/tone_track.hpp"
#include "analysis/watch_event.hpp"

#include <complex>
#include <cstdint>
#include <optional>
#include <vector>

namespace afterload::analysis {

class ToneWatch {
public:
    /// `omega` of the tone as it was found, radians a sample; pieces begin at sample `first`.
    ToneWatch(double omega, double rate_hz, std::optional<double> mains_hz, std::size_t channels,
              std::int64_t first);

    /// Samples of one piece, and the first of the next.
    [[nodiscard]] std::int64_t length() const { return static_cast<std::int64_t>(fit_.length()); }
    [[nodiscard]] std::int64_t next() const { return next_; }
    /// How far back the buffer must reach.
    [[nodiscard]] std::int64_t oldest_needed() const { return next_ - history_; }

    /// Watches the piece that begins at next(). It must be in `buffer` whole.
    void watch_piece(BlockBuffer& buffer, std::vector<ConverterEnd>& ends,
                     std::vector<WatchEvent>& events);
    void finish(BlockBuffer& buffer, std::vector<WatchEvent>& events);
    /// What lasts, as if it ended at `now_s`.
    [[nodiscard]] std::vector<WatchEvent> lasting(double now_s) const;
    [[nodiscard]] QualityWatch::Latest latest(std::size_t channel) const {
        return channels_.empty() ? QualityWatch::Latest{} : channels_[channel].quality.latest();
    }

    /// First sample of the level that was taken as the tone's own; absent until it settled.
    [[nodiscard]] std::optional<std::int64_t> settled_from() const { return settled_from_; }
    /// First sample of the first piece that held more than a tenth of the tone.
    [[nodiscard]] std::int64_t onset() const { return onset_; }
    /// Has it waited in vain for a level that stands still?
    [[nodiscard]] bool given_up() const;
    /// From where to the end all channels were silent, after finish().
    [[nodiscard]] std::optional<double> silent_from_s() const { return silent_from_s_; }

    /// When something moved, be it too little for an event: what the noise there tells of.
    struct Moment {
        int channel = 0;
        double time_s = 0.0;
    };
    [[nodiscard]] const std::vector<Moment>& moments() const { return moments_; }

    [[nodiscard]] std::int64_t not_finite() const { return not_finite_; }
    [[nodiscard]] double first_not_finite_s() const { return first_not_finite_s_; }
    [[nodiscard]] bool driven(std::size_t channel) const {
        return !channels_.empty() && channels_[channel].driven;
    }
    [[nodiscard]] ChannelFigures figures(std::size_t channel) const {
        return channels_.empty() ? ChannelFigures{} : channels_[channel].quality.figures();
    }

private:
    struct Channel {
        bool driven = false;
        bool gone = false;  // hardly anything is left of its tone
        ToneTrack track;
        LevelLadder ladder;
        QualityWatch quality;
        std::vector<std::complex<double>> recent;  // last pieces of a disturbance re the expected
        std::complex<double> after;                // their mean
    };
    /// A slip whose samples are looked at once more when enough of them have come.
    struct Slipped {
        std::size_t channel = 0;
        std::int64_t at = 0;
        double angle = 0.0;
        double omega = 0.0;
        double tolerance = 0.0;
    };
    [[nodiscard]] double seconds(std::int64_t sample) const {
        return static_cast<double>(sample) / rate_hz_;
    }
    Piece fitted(BlockBuffer& buffer, std::size_t channel, ConverterEnd& end,
                 std::vector<WatchEvent>& events);
    void settle_in();
    void watch_tone(BlockBuffer& buffer, std::vector<WatchEvent>& events);
    [[nodiscard]] bool suspicious(const Channel& channel, const ToneTrack::Deviation& seen) const;
    [[nodiscard]] bool steady(const Channel& channel) const;
    void settle_disturbance(BlockBuffer& buffer, std::vector<WatchEvent>& events);
    bool settle_slip(BlockBuffer& buffer, std::int64_t from);
    void tell_slips(BlockBuffer& buffer, std::int64_t now, bool all,
                    std::vector<WatchEvent>& events);
    void remember(int channel, double time_s);
    void settle_level(BlockBuffer& buffer, std::int64_t from, std::size_t index,
                      std::vector<WatchEvent>& events);
    [[nodiscard]] double omega_of(const Channel& channel) const;
    [[nodiscard]] std::complex<double> expected_at(const Channel& channel,
                                                   std::int64_t sample) const;

    double rate_hz_;
    PieceFit fit_;
    MainsLines mains_;
    std::int64_t first_;
    std::int64_t next_;
    std::int64_t history_;
    std::size_t settled_pieces_;   // that a disturbance ends with
    std::size_t pieces_to_begin_;  // that must agree at first
    std::int64_t most_disturbed_;  // samples after which a disturbance is no longer waited for
    long pieces_a_window_;

    std::vector<Piece> pieces_;                                    // of this moment, one a channel
    std::vector<std::vector<std::complex<double>>> first_pieces_;  // until settled
    std::vector<double> first_levels_;                             // of the loudest
    std::vector<Channel> channels_;                                // once settled
    std::optional<std::int64_t> settled_from_;
    std::int64_t onset_ = 0;
    std::optional<std::int64_t> disturbed_from_;
    std::vector<Slipped> slips_;
    std::vector<Moment> moments_;
    long window_pieces_ = 0;
    std::int64_t window_from_ = 0;
    std::optional<double> silent_from_s_;
    std::int64_t not_finite_ = 0;
    double first_not_finite_s_ = 0.0;
};

}  // namespace afterload::analysis
