/// The events that a watch tells: begun, grown, over, and those of all channels made one.
#pragma once

#include "analysis/soak/soak_event.hpp"

#include <cstddef>
#include <cstdint>
#include <vector>

namespace afterload::analysis {

class EventBook {
public:
    /// Of news that nobody takes at most `most` wait.
    explicit EventBook(std::size_t most) : most_{most} {}

    /// How many channels are driven: that many at once are all.
    void set_channels(int driven) { channels_ = driven; }

    /// Tells a beginning; returns its id. Of events of one kind and direction that begin within
    /// 60 ms of each other in all driven channels one is made: the later ones are withdrawn.
    std::uint64_t begin(const WatchEvent& seen);
    /// What is known better by now; told with its end.
    void change(std::uint64_t id, double size, double end_s);
    void end(std::uint64_t id, double size, double end_s);
    /// Begins and ends at once.
    void tell(const WatchEvent& seen);
    /// It was part of event `of`, or nothing at all (0).
    void withdraw(std::uint64_t id, std::uint64_t of);
    void end_all(double end_s);

    /// The converter of `channel` (0: the whole record) gives nothing that can be believed until
    /// `until_s`: what begins there meanwhile is told only when it lasts longer.
    void disbelieve(int channel, double until_s);
    /// What began since `start_s` and lasts was part of event `of`.
    void withdraw_since(double start_s, std::uint64_t of);
    /// It is `now_s`: what was held back and still lasts is told.
    void pass(double now_s);

    [[nodiscard]] std::vector<SoakEvent> take();
    [[nodiscard]] std::size_t left_out() const { return left_out_; }

private:
    struct Entry {
        std::uint64_t id = 0;
        WatchEvent seen;
        int own_channel = 0;
        bool lasts = true;
        std::uint64_t joined = 0;  // id of the one that stands for all channels
        bool held_back = false;    // not told: see disbelieve()
    };
    struct Disbelieved {
        int channel = 0;
        double until_s = 0.0;
    };
    Entry* find(std::uint64_t id);
    [[nodiscard]] bool believed(const WatchEvent& seen) const;
    void join(Entry& entry);
    void news(const Entry& entry, bool withdrawn, std::uint64_t of);
    void settle(std::uint64_t joined);

    std::size_t most_;
    std::size_t left_out_ = 0;
    int channels_ = 1;
    std::uint64_t last_ = 0;
    std::vector<Entry> entries_;  // those that last, and the last ones that are over
    std::vector<Disbelieved> disbelieved_;
    std::vector<SoakEvent> waiting_;
};

}  // namespace afterload::analysis
