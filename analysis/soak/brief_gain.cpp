#include "analysis/soak/brief_gain.hpp"

#include "analysis/level_change.hpp"
#include "analysis/median.hpp"
#include "analysis/soak/gain_model.hpp"

#include <cmath>
#include <vector>

namespace afterload::analysis {
namespace {

constexpr double least_change_db = 1.0;
constexpr double accounted_for = 0.6;

}  // namespace

std::optional<BriefGain> brief_gain(std::span<const double> stimulus,
                                    std::span<const double> record, std::size_t step, double base) {
    const std::size_t count = record.size() / step;
    if (count < 8) {
        return std::nullopt;
    }
    std::vector<StretchSums> before(count + 1);
    std::vector<StretchSums> each(count);
    for (std::size_t s = 0; s < count; ++s) {
        for (std::size_t n = std::max<std::size_t>(1, s * step); n < (s + 1) * step; ++n) {
            const double dx = stimulus[n] - stimulus[n - 1];
            const double dy = record[n] - record[n - 1];
            each[s].xx += dx * dx;
            each[s].xy += dx * dy;
            each[s].yy += dy * dy;
        }
        before[s + 1] = before[s];
        before[s + 1] += each[s];
    }
    std::vector<double> shares;
    for (const StretchSums& sums : each) {
        if (sums.xx > 0.0) {
            shares.push_back(sums.left(base) / sums.xx);
        }
    }
    if (shares.size() < count / 2) {
        return std::nullopt;
    }
    const double usual = median_of(shares) * before[count].xx;
    const double unchanged = before[count].left(base);
    double least = unchanged;
    std::optional<BriefGain> best;
    const auto between = [&](std::size_t i, std::size_t j) {
        StretchSums sums;
        sums.xx = before[j].xx - before[i].xx;
        sums.xy = before[j].xy - before[i].xy;
        sums.yy = before[j].yy - before[i].yy;
        return sums;
    };
    for (std::size_t i = 1; i < count; ++i) {
        for (std::size_t j = i + 1; j <= count; ++j) {
            const StretchSums inside = between(i, j);
            if (!(inside.xx > 0.0)) {
                continue;
            }
            const double gain = inside.xy / inside.xx;
            const double left = unchanged - inside.left(base) + inside.left(gain);
            if (left < least) {
                least = left;
                best = BriefGain{i, j, gain / base};
            }
        }
    }
    if (!best || !(unchanged > 2.0 * usual) ||
        unchanged - least < accounted_for * (unchanged - usual)) {
        return std::nullopt;
    }
    if (best->end == count) {
        return std::nullopt;  // it goes on
    }
    // What stands at its edges is only half inside.
    StretchSums inside = between(best->first, best->end);
    if (best->end - best->first >= 3) {
        inside = between(best->first + 1, best->end - 1);
        best->ratio = inside.xx > 0.0 ? inside.xy / inside.xx / base : best->ratio;
    }
    // At another gain it is still what was played; in a dropout hardly anything is there at all.
    const bool like = std::abs(best->ratio) > 0.1
                          ? inside.left(best->ratio * base) < 0.1 * inside.yy
                          : inside.yy < 0.15 * base * base * inside.xx;
    if (!like || std::abs(level_change_db(std::abs(best->ratio))) < least_change_db) {
        return std::nullopt;
    }
    best->first *= step;
    best->end *= step;
    return best;
}

}  // namespace afterload::analysis
