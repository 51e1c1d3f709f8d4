#include "analysis/soak/slow_watch.hpp"

#include <algorithm>
#include <cmath>

namespace afterload::analysis {
namespace {

using Kind = WatchEvent::Kind;

constexpr double course_share = 1.0 / 1000.0;
constexpr int back_for = 3;
// What spoils a window spoils those that follow until it has left them.
constexpr int windows_spoilt = 6;
// Of the level, what a unit in good use may make of two notes together (common practice: its
// distortion is below that).
constexpr double products = 3e-3;
constexpr int lasting = 112;          // windows, 3 s: longer than a chord
constexpr int lasting_back_for = 28;  // windows, 0.75 s
constexpr double kept_loud = 0.75;    // a window later

}  // namespace

SlowWatch::SlowWatch(int channel, double least_offset)
    : channel_{channel}, least_offset_{least_offset} {}

void SlowWatch::add(const SlowBand& band, const SlowBand::Reading& reading, double level,
                    double end_s, double window_s, bool watched, EventBook& book) {
    loud_ = std::max(level, kept_loud * loud_);
    spoilt_ = watched ? std::max(0, spoilt_ - 1) : windows_spoilt;
    const bool sure = spoilt_ == 0;

    const double away = reading.fresh - course_;
    const double threshold = least_offset_ + band.most_fresh(reading);
    const double quarter_s = window_s / 4.0;
    if (offset_ == 0 && sure && std::abs(away) > threshold) {
        WatchEvent event;
        event.kind = Kind::offset;
        event.channel = channel_;
        event.start = Seconds{end_s - quarter_s};
        event.size = away;
        offset_size_ = away;
        offset_start_s_ = end_s - quarter_s;
        offset_back_ = 0;
        offset_ = book.begin(event);
    } else if (offset_ != 0) {
        if (std::abs(away) > std::abs(offset_size_)) {
            offset_size_ = away;
            book.change(offset_, away, end_s);
        }
        offset_back_ = std::abs(away) < 0.5 * threshold ? offset_back_ + 1 : 0;
        if (offset_back_ == back_for) {
            book.end(offset_, offset_size_, end_s - (back_for - 1) * quarter_s);
            offset_ = 0;
        }
    } else if (sure) {
        course_ += away * course_share;
    }

    watch_hum(band, reading, end_s, window_s, sure, book);
}

void SlowWatch::watch_hum(const SlowBand& band, const SlowBand::Reading& reading, double end_s,
                          double window_s, bool sure, EventBook& book) {
    const double limit = band.most_hum(reading);
    const double middle_s = end_s - 0.5 * window_s;
    if (hum_ == 0) {
        const bool over = sure && reading.hum > limit;
        const bool plain = over && reading.hum > limit + products * loud_;
        if (over && hum_over_ == 0) {
            hum_since_s_ = middle_s;
        }
        hum_over_ = std::max(0, hum_over_ + (over ? 1 : -1));
        hum_plain_ = plain ? hum_plain_ + 1 : 0;
        const bool at_once = hum_plain_ == 2;
        if (at_once || hum_over_ == lasting) {
            WatchEvent event;
            event.kind = Kind::hum;
            event.channel = channel_;
            hum_enough_ = at_once ? back_for : lasting_back_for;
            event.start = Seconds{at_once ? middle_s - window_s / 4.0 : hum_since_s_};
            event.size = reading.hum;
            hum_size_ = reading.hum;
            hum_back_ = 0;
            hum_ = book.begin(event);
        }
        return;
    }
    hum_size_ = std::max(hum_size_, reading.hum);
    book.change(hum_, hum_size_, end_s);
    hum_back_ = reading.hum < 0.5 * (band.reference_hum() + limit) ? hum_back_ + 1 : 0;
    if (hum_back_ == hum_enough_) {
        book.end(hum_, hum_size_, middle_s - (hum_enough_ - 1) * window_s / 4.0);
        hum_ = 0;
        hum_over_ = hum_plain_ = 0;
    }
}

void SlowWatch::finish(double end_s, EventBook& book) {
    if (offset_ != 0) {
        book.end(offset_, offset_size_, end_s);
        offset_ = 0;
    }
    if (hum_ != 0) {
        book.end(hum_, hum_size_, end_s);
        hum_ = 0;
    }
}

}  // namespace afterload::analysis
