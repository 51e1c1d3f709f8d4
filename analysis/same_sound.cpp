#include "analysis/same_sound.hpp"

#include <algorithm>

namespace afterload {
namespace {

bool same_sines(const std::vector<Partial>& now, const std::vector<Partial>& next) {
    return std::equal(now.begin(), now.end(), next.begin(), next.end(),
                      [](const Partial& a, const Partial& b) {
                          return a.frequency == b.frequency && a.phase == b.phase;
                      });
}

bool same_loop(const std::optional<Loop>& now, const std::optional<Loop>& next) {
    if (!now || !next) {
        return !now && !next;
    }
    return now->samples == next->samples && now->rate == next->rate;
}

bool passes(const Stimulus& stimulus) {
    return stimulus.silent() ||
           std::any_of(stimulus.bursts.begin(), stimulus.bursts.end(),
                       [](const auto& bursts) { return !bursts.empty(); }) ||
           std::any_of(stimulus.sweeps.begin(), stimulus.sweeps.end(),
                       [](const auto& sweeps) { return !sweeps.empty(); });
}

}  // namespace

bool same_sound(const Stimulus& now, const Stimulus& next) {
    return !passes(now) && !passes(next) && same_sines(now.channels[0], next.channels[0]) &&
           same_sines(now.channels[1], next.channels[1]) && same_loop(now.loop, next.loop);
}

}  // namespace afterload
