#include "analysis/brief_change.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <vector>

namespace afterload::analysis {
namespace {

// Level of `x` against `tone` over [first, end), least squares.
double ratio_of(std::span<const double> x, const std::vector<double>& tone, std::size_t first,
                std::size_t end) {
    double product = 0.0;
    double square = 0.0;
    for (std::size_t n = first; n < end; ++n) {
        product += x[n] * tone[n];
        square += tone[n] * tone[n];
    }
    return square > 0.0 ? product / square : 1.0;
}

// The level in half a period that is furthest from what it should be.
double furthest_ratio(std::span<const double> x, const std::vector<double>& tone, double omega) {
    const auto width = std::max<std::size_t>(8, static_cast<std::size_t>(std::numbers::pi / omega));
    double furthest = 1.0;
    for (std::size_t n = 0; n + width <= x.size(); n += std::max<std::size_t>(1, width / 4)) {
        const double ratio = ratio_of(x, tone, n, n + width);
        furthest = std::abs(ratio - 1.0) > std::abs(furthest - 1.0) ? ratio : furthest;
    }
    return furthest;
}

}  // namespace

std::optional<BriefChange> brief_change(std::span<const double> record, double omega,
                                        std::complex<double> tone) {
    std::vector<double> wave(record.size());
    for (std::size_t n = 0; n < record.size(); ++n) {
        wave[n] = (tone * std::polar(1.0, omega * static_cast<double>(n))).real();
    }
    BriefChange change;
    change.ratio = furthest_ratio(record, wave, omega);
    double gained = 0.0;
    for (int pass = 0; pass < 4; ++pass) {
        // The stretch in which the changed level gains most over the unchanged one.
        double sum = 0.0;
        gained = 0.0;
        std::size_t from = 0;
        for (std::size_t n = 0; n < record.size(); ++n) {
            const double unchanged = record[n] - wave[n];
            const double changed = record[n] - change.ratio * wave[n];
            if (sum <= 0.0) {
                sum = 0.0;
                from = n;
            }
            sum += unchanged * unchanged - changed * changed;
            if (sum > gained) {
                gained = sum;
                change.first = from;
                change.end = n + 1;
            }
        }
        if (!(gained > 0.0)) {
            return std::nullopt;
        }
        change.ratio = ratio_of(record, wave, change.first, change.end);
    }
    double all = 0.0;
    for (std::size_t n = change.first; n < change.end; ++n) {
        all += (record[n] - wave[n]) * (record[n] - wave[n]);
    }
    return gained > 0.5 * all ? std::optional{change} : std::nullopt;
}

}  // namespace afterload::analysis
