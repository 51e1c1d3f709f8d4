#include "analysis/excursion.hpp"

#include <algorithm>

namespace afterload::analysis {

std::optional<Excursion::Told> Excursion::add(const WatchedWindow& window, double base,
                                              double threshold) {
    if (count_ == 0) {
        if (window.value <= base + threshold) {
            before_ = window;
            return std::nullopt;
        }
        base_ = base;
        threshold_ = threshold;
        first_ = last_ = window;
        sum_ = peak_ = window.value;
        count_ = 1;
        below_ = 0;
        return std::nullopt;
    }
    if (window.value > base_ + 0.5 * threshold_) {
        last_ = window;
        sum_ += window.value;
        peak_ = std::max(peak_, window.value);
        ++count_;
        below_ = 0;
        return std::nullopt;
    }
    if (below_ == 0) {
        after_ = window;
    }
    ++below_;
    if (below_ < to_close_) {
        return std::nullopt;
    }
    std::optional<Told> told = close();
    before_ = window;
    return told;
}

std::optional<Excursion::Told> Excursion::finish() {
    if (count_ == 0) {
        return std::nullopt;
    }
    if (below_ == 0) {
        after_ = {last_.start_s + last_.length_s, last_.length_s, base_};
    }
    return close();
}

std::optional<Excursion::Told> Excursion::close() {
    const long count = count_;
    count_ = 0;
    if (count < to_open_ && peak_ < base_ + strong_ * threshold_) {
        return std::nullopt;
    }
    const double plateau =
        count > 2 ? (sum_ - first_.value - last_.value) / static_cast<double>(count - 2) : peak_;
    const auto share = [&](const WatchedWindow& window) {
        const double part = (window.value - base_) / (plateau - base_);
        return part > 0.05 ? std::min(part, 1.0) : 0.0;
    };
    Told told;
    told.value = plateau;
    told.start_s = first_.start_s + (1.0 - share(first_)) * first_.length_s;
    const bool touches = before_.start_s + 1.5 * before_.length_s > first_.start_s;
    if (touches && before_.length_s > 0.0) {
        told.start_s -= share(before_) * before_.length_s;
    }
    told.end_s = last_.start_s + share(last_) * last_.length_s;
    if (last_.start_s + 1.5 * last_.length_s > after_.start_s) {
        told.end_s += share(after_) * after_.length_s;
    }
    told.end_s = std::max(told.end_s, told.start_s);
    return told;
}

}  // namespace afterload::analysis
