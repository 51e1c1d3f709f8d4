#include "analysis/soak/gain_watch.hpp"

#include "analysis/level_change.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

namespace afterload::analysis {
namespace {

using Kind = WatchEvent::Kind;

constexpr double dropout_ratio = 0.1;
constexpr double worst_sigma = 0.06;  // a gain known worse is not watched
constexpr double sigmas = 8.0;
constexpr std::size_t kept_blocks = 3;
// The gain is followed within half a minute.
constexpr double course_share = 1.0 / 1000.0;
constexpr double strong = 30.0;
constexpr double at_peaks = 0.68;

}  // namespace

GainWatch::GainWatch(int channel, double least_step, double stretch_s)
    : channel_{channel}, least_step_{least_step}, stretch_s_{stretch_s} {}

double GainWatch::expected() const {
    return dropout_ != 0 ? course_ * plateau_ * dropout_gain_ : course_ * plateau_;
}

// The interval that, at another gain, accounts best for the last stretches.
std::optional<GainWatch::Change> GainWatch::best_change(const GainModel& model) const {
    const std::size_t count = stretches_.size();
    std::vector<StretchSums> before(count + 1);
    std::vector<double> unchanged(count + 1, 0.0);
    std::size_t first_free = 0;
    for (std::size_t i = 0; i < count; ++i) {
        const Stretch& stretch = stretches_[i];
        before[i + 1] = before[i];
        before[i + 1] += stretch.sums;
        unchanged[i + 1] = unchanged[i] + stretch.sums.left(stretch.expected);
        first_free = stretch.told ? i + 1 : first_free;
    }
    std::optional<Change> best;
    double least = unchanged[count];
    for (std::size_t i = first_free; i < count; ++i) {
        for (std::size_t j = i + 1; j <= count; ++j) {
            const double xx = before[j].xx - before[i].xx;
            const double xy = before[j].xy - before[i].xy;
            const double yy = before[j].yy - before[i].yy;
            if (!(xx > 0.0)) {
                continue;
            }
            const double gain = xy / xx;
            const double left = unchanged[count] - (unchanged[j] - unchanged[i]) + yy - gain * xy;
            if (left < least) {
                least = left;
                best = {i, j, gain};
            }
        }
    }
    if (!best) {
        return std::nullopt;
    }
    // It must account for what is too much, and be a step that can be told in so short a time.
    StretchSums all;
    StretchSums inside;
    double usual = 0.0;
    for (std::size_t i = first_free; i < count; ++i) {
        const Stretch& stretch = stretches_[i];
        all += stretch.sums;
        usual += (model.usual_rest(0.0) / static_cast<double>(GainBlock::stretches)) +
                 (model.usual_rest(1.0) - model.usual_rest(0.0)) * stretch.sums.xx *
                     stretch.expected * stretch.expected;
        if (i >= best->first && i < best->end) {
            inside += stretch.sums;
        }
    }
    const double excess = unchanged[count] - unchanged[first_free] - usual;
    const double still = least - unchanged[first_free] - usual;
    const double base = course_ * plateau_;
    const double share =
        static_cast<double>(best->end - best->first) / static_cast<double>(GainBlock::stretches);
    const double played = inside.xx * base * base / std::max(share, 0.1);
    const double step =
        std::max(least_step_, sigmas * model.sigma(played) / std::sqrt(std::min(1.0, share)));
    const double now = stretches_[best->first].expected;
    // What stands at its edges is only half inside.
    if (best->end - best->first >= 3) {
        const std::size_t i = best->first + 1;
        const std::size_t j = best->end < count ? best->end - 1 : best->end;
        const double xx = before[j].xx - before[i].xx;
        inside.xx = xx;
        inside.xy = before[j].xy - before[i].xy;
        inside.yy = before[j].yy - before[i].yy;
        best->gain = xx > 0.0 ? inside.xy / xx : best->gain;
    }
    // At another gain it is still what was played; in a dropout hardly anything is there at all.
    const bool like = std::abs(best->gain) > dropout_ratio * base
                          ? inside.left(best->gain) < 0.1 * inside.yy
                          : inside.yy < 0.15 * base * base * inside.xx;
    if (!like || still > 0.4 * excess + 2.0 * usual || std::abs(best->gain - now) < step * base ||
        step > 0.9) {
        return std::nullopt;
    }
    return best;
}

void GainWatch::end_level(double end_s, EventBook& book) {
    if (level_ != 0) {
        book.end(level_, level_change_db(plateau_), end_s);
    }
    level_ = 0;
    plateau_ = 1.0;
}

// From `start_s` on the gain stands at `gain` re the course.
void GainWatch::lasting(double gain, double start_s, EventBook& book) {
    if (std::abs(gain) <= dropout_ratio * plateau_) {
        if (dropout_ != 0) {
            return;
        }
        // A level that was told a moment ago was the dropout's first part.
        std::uint64_t was = 0;
        if (level_ != 0 && start_s - level_start_s_ < 0.06) {
            start_s = level_start_s_;
            was = level_;
            level_ = 0;
            plateau_ = 1.0;
        }
        WatchEvent event;
        event.kind = Kind::dropout;
        event.channel = channel_;
        event.start = Seconds{start_s};
        event.size = level_change_db(gain / plateau_);
        dropout_ = book.begin(event);
        dropout_start_s_ = start_s;
        dropout_gain_ = std::max(0.0, gain / plateau_);
        if (was != 0) {
            book.withdraw(was, dropout_);
        }
        return;
    }
    if (dropout_ != 0) {
        book.end(dropout_, level_change_db(dropout_gain_), start_s);
        dropout_ = 0;
    }
    const auto step_between = [](double a, double b) { return std::abs(a - b) / b; };
    if (level_ != 0 && step_between(gain, plateau_) < 0.5 * least_step_) {
        return;
    }
    if (step_between(gain, 1.0) < 0.75 * least_step_) {
        end_level(start_s, book);
        return;
    }
    if (level_ != 0 && start_s - level_start_s_ < 0.06) {
        // Still its beginning, seen better.
        plateau_ = gain;
        book.change(level_, level_change_db(gain), start_s);
        return;
    }
    end_level(start_s, book);
    WatchEvent event;
    event.kind = Kind::level;
    event.channel = channel_;
    event.start = Seconds{start_s};
    event.size = level_change_db(gain);
    level_ = book.begin(event);
    level_start_s_ = start_s;
    plateau_ = gain;
}

bool GainWatch::explain(const GainModel& model, EventBook& book) {
    const auto change = best_change(model);
    if (!change) {
        return false;
    }
    const double gain = change->gain / course_;
    const double start_s = stretches_[change->first].start_s;
    if (change->end < stretches_.size()) {
        // Over already: too brief for a block. In the middle of a dropout it is no news.
        return dropout_ != 0;
    }
    if (change->end - change->first < 4) {
        return true;  // only its beginning: the next block says more
    }
    for (std::size_t i = change->first; i < change->end; ++i) {
        stretches_[i].told = true;
    }
    lasting(gain, start_s, book);
    return true;
}

GainWatch::Found GainWatch::add(const GainModel& model, const GainBlock& block, double start_s,
                                EventBook& book) {
    const double base = expected();
    const bool is_new = model.driven() && block.unheard > worst_sigma * worst_sigma * block.all.xx;
    for (std::size_t s = 0; s < GainBlock::stretches; ++s) {
        stretches_.push_back(
            {block.stretch[s], start_s + static_cast<double>(s) * stretch_s_, base, is_new});
    }
    while (stretches_.size() > kept_blocks * GainBlock::stretches) {
        stretches_.pop_front();
    }
    const double foretold = block.all.xx * course_ * course_ * plateau_ * plateau_;
    const double sigma = model.driven() ? model.sigma(foretold) : 1.0;
    const double rest = block.all.left(base);
    const double usual = model.usual_rest(block.all.xx * base * base) * model.most_rest() +
                         model.unknown(block) * base * base;
    if (is_new && dropout_ == 0 && rest <= usual) {
        smooth(start_s, book);
        return Found::unheard;
    }
    if (sigma > worst_sigma) {
        // A pause: nothing can be said of the gain.
        const double quiet = block.all.left(model.driven() ? base : 0.0);
        if (quiet > usual) {
            return Found::incoherent;
        }
        smooth(start_s, book);
        return Found::unwatched;
    }
    const double step = std::max(least_step_, sigmas * sigma) * course_ * plateau_;
    const bool moved = std::abs(block.gain - base) > step;
    // In a dropout hardly anything is there, and what rings on is not the stimulus.
    if (dropout_ != 0 && std::abs(block.gain) < dropout_ratio * course_ * plateau_ &&
        block.all.yy < 0.1 * foretold) {
        smooth(start_s, book);
        return Found::usual;
    }
    if (!moved && rest <= usual) {
        if (dropout_ == 0) {
            const double follow = (block.gain / plateau_ - course_) * course_share;
            course_ += follow;
            if (level_ != 0 && std::abs(plateau_ - 1.0) < 0.5 * least_step_) {
                // It is back, or was only the foot of another event.
                if (start_s - level_start_s_ < 0.1) {
                    book.withdraw(level_, 0);
                    level_ = 0;
                    plateau_ = 1.0;
                }
                end_level(start_s, book);
            } else if (level_ != 0) {
                plateau_ += (block.gain / course_ - plateau_) * 0.1;
                book.change(level_, level_change_db(plateau_),
                            start_s + stretch_s_ * GainBlock::stretches);
            }
        }
        smooth(start_s, book);
        return Found::usual;
    }
    if (explain(model, book)) {
        rough_ = rough_event_ == 0 ? 0 : rough_;
        return Found::usual;
    }
    return Found::incoherent;
}

void GainWatch::smooth(double start_s, EventBook& book) {
    if (rough_event_ == 0) {
        // One block alone: a crackle, when it was loud, and not the foot of something else.
        if (rough_ == 1 && rough_strong_) {
            book.tell(rough(start_s));
        }
        rough_ = 0;
        return;
    }
    if (++smooth_ < 2) {
        return;
    }
    const double end_s = start_s - (smooth_ - 1) * stretch_s_ * GainBlock::stretches;
    book.end(rough_event_, rough(end_s).size, end_s);
    rough_event_ = 0;
    rough_ = 0;
}

void GainWatch::settle_incoherent(const GainModel& model, const GainBlock& block, double start_s,
                                  EventBook& book) {
    const double base = expected();
    const double gain = model.driven() && block.all.xx > 0.0 && dropout_ == 0 ? block.gain : base;
    const double rest = block.all.left(gain);
    smooth_ = 0;
    if (rough_ == 0) {
        rough_start_s_ = start_s;
        rough_power_ = rough_foretold_ = rough_blocks_ = loud_share_ = 0.0;
    }
    ++rough_;
    rough_power_ += std::max(0.0, rest);
    rough_foretold_ += block.all.xx * gain * gain;
    rough_blocks_ += 1.0;
    // Does it come with the peaks?
    std::array<double, GainBlock::stretches> peaks{};
    for (std::size_t s = 0; s < GainBlock::stretches; ++s) {
        peaks[s] = block.stretch[s].peak;
    }
    std::nth_element(peaks.begin(), peaks.begin() + GainBlock::stretches / 2, peaks.end());
    const double middle = peaks[GainBlock::stretches / 2];
    double loud = 0.0;
    for (const StretchSums& stretch : block.stretch) {
        loud += stretch.peak >= middle ? std::max(0.0, stretch.left(gain)) : 0.0;
    }
    loud_share_ += rest > 0.0 ? loud / rest : 0.0;
    rough_strong_ =
        rest > strong * model.most_rest() * model.usual_rest(block.all.xx * base * base);
    if (rough_event_ == 0) {
        const bool comes_with_peaks =
            model.driven() && rough_foretold_ > 0.0 && loud_share_ / rough_blocks_ > at_peaks;
        rough_kind_ = comes_with_peaks ? Kind::distortion : Kind::noise;
    }
    if (rough_event_ == 0 && rough_ >= 2) {
        rough_event_ = book.begin(rough(start_s + stretch_s_ * GainBlock::stretches));
    }
}

WatchEvent GainWatch::rough(double end_s) const {
    WatchEvent event;
    event.kind = rough_kind_;
    event.channel = channel_;
    event.start = Seconds{rough_start_s_};
    event.duration = Seconds{end_s - rough_start_s_};
    event.size = rough_kind_ == Kind::noise
                     ? std::sqrt(rough_power_ / rough_blocks_ / GainBlock::length)
                     : std::sqrt(rough_power_ / rough_foretold_);
    return event;
}

void GainWatch::tell_brief(double start_s, double end_s, double ratio, EventBook& book) {
    rough_ = 0;
    WatchEvent event;
    event.kind = std::abs(ratio) <= dropout_ratio ? Kind::dropout : Kind::level;
    event.channel = channel_;
    event.start = Seconds{start_s};
    event.duration = Seconds{end_s - start_s};
    event.size = level_change_db(std::abs(ratio));
    book.tell(event);
    for (Stretch& stretch : stretches_) {
        stretch.told = true;
    }
}

void GainWatch::finish(double end_s, EventBook& book) {
    if (dropout_ != 0) {
        book.end(dropout_, level_change_db(dropout_gain_), end_s);
        dropout_ = 0;
    }
    end_level(end_s, book);
    if (rough_event_ != 0) {
        book.end(rough_event_, rough(end_s).size, end_s);
        rough_event_ = 0;
    }
}

}  // namespace afterload::analysis
