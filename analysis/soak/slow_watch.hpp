/// Offset and mains lines of one channel: steps of the one and rises of the other.
#pragma once

#include "analysis/soak/event_book.hpp"
#include "analysis/soak/slow_band.hpp"

#include <cstdint>

namespace afterload::analysis {

class SlowWatch {
public:
    /// `least_offset`: V.
    SlowWatch(int channel, double least_offset);

    /// Takes a reading whose window ended at `end_s`; `level`: V rms that the unit should give in
    /// its last quarter, 0 in silence; `watched`: no other event spoils it.
    ///
    /// Hum that two notes of what is played may have made together, on a mains line by chance, is
    /// told when it lasts longer than a chord.
    void add(const SlowBand& band, const SlowBand::Reading& reading, double level, double end_s,
             double window_s, bool watched, EventBook& book);
    void finish(double end_s, EventBook& book);

private:
    void watch_hum(const SlowBand& band, const SlowBand::Reading& reading, double end_s,
                   double window_s, bool sure, EventBook& book);

    int channel_;
    double least_offset_;
    double course_ = 0.0;  // of the mean: a drift of half a minute is followed
    std::uint64_t offset_ = 0;
    double offset_size_ = 0.0;
    double offset_start_s_ = 0.0;
    int offset_back_ = 0;
    std::uint64_t hum_ = 0;
    double hum_size_ = 0.0;
    int hum_over_ = 0;  // windows, those below taken off again
    double hum_since_s_ = 0.0;
    int hum_plain_ = 0;  // in a row, that nothing played can have made
    int hum_back_ = 0;
    int hum_enough_ = 0;  // windows back, until it is over
    double loud_ = 0.0;   // V rms, the loudest part of the window
    int spoilt_ = 0;
};

}  // namespace afterload::analysis
