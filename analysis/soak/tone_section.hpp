/// The watch of a tone (watch.hpp) as a section of a soak: told while it lasts.
#pragma once

#include "analysis/soak/watch_section.hpp"
#include "analysis/watch.hpp"

#include <cstdint>
#include <optional>
#include <vector>

namespace afterload::analysis {

class ToneSection : public WatchSection {
public:
    ToneSection(const StimulusWatchSettings& settings, std::optional<Hertz> tone,
                std::int64_t first);

    void advance(WatchedStreams& streams, EventBook& book) override;
    [[nodiscard]] std::int64_t oldest_needed() const override { return next_; }
    void finish(WatchedStreams& streams, EventBook& book) override;
    void read(SoakReading& reading) override;
    [[nodiscard]] bool learning() const override { return !reference_known_; }
    void drive_changed(WatchedStreams& streams, EventBook& book, Gain change) override;

private:
    struct Told {
        WatchEvent seen;
        std::uint64_t id = 0;  // 0: kept from being told, it belongs to what is frozen
        bool lasts = true;
    };
    struct Channel {
        long windows = 0;     // of the watch, that were read
        double levels = 0.0;  // sums over those of this second
        double level_squares = 0.0;
        double distortion = 0.0;
        double residual = 0.0;
        double hum = 0.0;
        double mean = 0.0;
        double count = 0.0;
        std::optional<double> reference;  // gain, volts at the unit per volt of the stimulus
        std::optional<double> gain;       // of the last second
        std::optional<double> before;     // the drive was changed
    };
    void make_watch();
    void tell(EventBook& book, bool all);
    void tell_one(const WatchEvent& event, bool lasts, bool settled, EventBook& book);
    void find_frozen(EventBook& book);
    void gather(WatchedStreams& streams, std::int64_t from, std::int64_t to);

    StimulusWatchSettings settings_;
    std::optional<Hertz> tone_;
    double rate_;
    std::optional<Watch> watch_;
    std::int64_t first_;  // of the watch
    std::int64_t next_;
    std::vector<Channel> channels_;
    std::vector<double> played_squares_;  // a stimulus, of this second
    double played_count_ = 0.0;
    bool reference_known_ = false;
    std::vector<Told> told_;
    std::size_t seen_so_far_ = 0;
    bool something_lasted_ = false;
    std::vector<double> slips_s_;  // of the last seconds
    std::vector<std::uint64_t> slip_ids_;
    std::vector<double> slip_sizes_;
    std::uint64_t frozen_ = 0;
    double frozen_size_ = 0.0;
    double changed_at_s_ = 0.0;        // the drive, last
    std::vector<WatchEvent> to_tell_;  // found while reading
};

}  // namespace afterload::analysis
