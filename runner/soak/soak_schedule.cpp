#include "runner/soak/soak_schedule.hpp"

#include <cmath>

namespace afterload::runner {

namespace {

constexpr Seconds least_before_hot{1200.0};  // a heat sink that has hardly begun is not steady
constexpr double latest_hot = 0.75;          // of the duration

double within(Seconds at, Seconds round) {
    return std::fmod(at.in<Seconds>(), round.in<Seconds>());
}

}  // namespace

SoakSchedule::SoakSchedule(const sequences::Soak& soak)
    : soak_{soak}, hot_done_(soak.remeasure.size(), false) {
    for (const auto& again : soak.remeasure) {
        next_.push_back(again.every.value_or(Seconds{0.0}));
    }
}

SoakPlayer::What SoakSchedule::due(Seconds at) const {
    using Play = SoakPlayer::What;
    if (soak_.cycle &&
        within(at, soak_.cycle->on + soak_.cycle->off) >= soak_.cycle->on.in<Seconds>()) {
        return Play::nothing;
    }
    if (soak_.signal == sequences::SoakSignal::sine) {
        return Play::sine;
    }
    // The window stands at the end of its interval: noise first.
    if (soak_.sine_window &&
        within(at, soak_.sine_window->every) >=
            (soak_.sine_window->every - soak_.sine_window->lasts).in<Seconds>()) {
        return Play::sine;
    }
    return Play::loop;
}

std::vector<std::size_t> SoakSchedule::remeasure_due(Seconds at, bool steady) {
    std::vector<std::size_t> due;
    for (std::size_t i = 0; i < soak_.remeasure.size(); ++i) {
        const auto& again = soak_.remeasure[i];
        bool now = false;
        if (again.every && at >= next_[i] && at < soak_.duration) {
            now = true;
            while (next_[i] <= at) {
                next_[i] += *again.every;
            }
        }
        const bool late = at >= latest_hot * soak_.duration;
        if (again.hot && !hot_done_[i] && (late || (steady && at >= least_before_hot))) {
            hot_done_[i] = true;
            now = true;
        }
        if (now) {
            due.push_back(i);
        }
    }
    return due;
}

std::vector<std::size_t> SoakSchedule::at_start() const {
    std::vector<std::size_t> due;
    for (std::size_t i = 0; i < soak_.remeasure.size(); ++i) {
        if (soak_.remeasure[i].at_start) {
            due.push_back(i);
        }
    }
    return due;
}

std::vector<std::size_t> SoakSchedule::at_end() const {
    std::vector<std::size_t> due;
    for (std::size_t i = 0; i < soak_.remeasure.size(); ++i) {
        if (soak_.remeasure[i].at_end) {
            due.push_back(i);
        }
    }
    return due;
}

void SoakSchedule::go_on_from(Seconds at) {
    for (std::size_t i = 0; i < soak_.remeasure.size(); ++i) {
        const auto& again = soak_.remeasure[i];
        while (again.every && next_[i] <= at) {
            next_[i] += *again.every;
        }
        hot_done_[i] = at >= latest_hot * soak_.duration;
    }
}

}  // namespace afterload::runner
