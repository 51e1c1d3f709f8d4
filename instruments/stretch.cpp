#include "instruments/stretch.hpp"

#include <utility>

namespace afterload::instruments {

Stretch StretchLine::take_empty() {
    std::unique_lock lock{mutex_};
    changed_.wait(lock, [this] { return under_way_ < most_under_way; });
    ++under_way_;
    if (empty_.empty()) {
        return {};
    }
    Stretch stretch = std::move(empty_.back());
    empty_.pop_back();
    return stretch;
}

void StretchLine::send(Stretch stretch) {
    const std::lock_guard lock{mutex_};
    waiting_.push_back(std::move(stretch));
    changed_.notify_all();
}

void StretchLine::end() {
    const std::lock_guard lock{mutex_};
    ended_ = true;
    changed_.notify_all();
}

bool StretchLine::receive(Stretch& stretch) {
    std::unique_lock lock{mutex_};
    changed_.wait(lock, [this] { return ended_ || !waiting_.empty(); });
    if (waiting_.empty()) {
        return false;
    }
    stretch = std::move(waiting_.front());
    waiting_.pop_front();
    return true;
}

void StretchLine::give_back(Stretch stretch) {
    const std::lock_guard lock{mutex_};
    empty_.push_back(std::move(stretch));
    --under_way_;
    changed_.notify_all();
}

}  // namespace afterload::instruments
