/// A stretch of audio on its way from the simulated unit to the card, and the line it waits in.
#pragma once

#include <condition_variable>
#include <cstddef>
#include <deque>
#include <mutex>
#include <vector>

namespace afterload::instruments {

struct Stretch {
    /// What held while a few frames were computed.
    struct Block {
        std::size_t frames = 0;  ///< of the card
        double ripple_volts = 0.0;
        double rail_volts = 0.0;
        double mains_hertz = 0.0;
        bool settled = true;  ///< no filter rings from a skip
    };
    std::vector<Block> blocks;
    std::vector<double> inner;  ///< terminal volts at the amplifier's inner rate, interleaved
};

/// Hands stretches from one thread to another in order, at most a few ahead, and back when used up
/// so that their memory serves again. Nothing flows the other way, so who waits for whom changes no
/// sample.
class StretchLine {
public:
    /// An empty stretch to fill; waits while too many are under way.
    [[nodiscard]] Stretch take_empty();
    void send(Stretch stretch);
    void end();  ///< nothing more comes

    /// The next one; false: the end.
    [[nodiscard]] bool receive(Stretch& stretch);
    void give_back(Stretch stretch);

private:
    static constexpr std::size_t most_under_way = 6;
    std::mutex mutex_;
    std::condition_variable changed_;
    std::deque<Stretch> waiting_;
    std::vector<Stretch> empty_;
    std::size_t under_way_ = 0;
    bool ended_ = false;
};

}  // namespace afterload::instruments
