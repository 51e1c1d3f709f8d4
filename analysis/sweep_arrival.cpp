#include "analysis/sweep_arrival.hpp"

#include "analysis/transform.hpp"

#include <algorithm>
#include <cmath>
#include <complex>
#include <cstddef>
#include <numeric>
#include <utility>
#include <vector>

namespace afterload::analysis {

namespace {

constexpr double stands_out = 6.0;
constexpr std::size_t most_averaged = 8;
constexpr std::size_t least_left = 512;  // samples of an averaged sound

double energy(std::span<const double> x) {
    return std::inner_product(x.begin(), x.end(), x.begin(), 0.0);
}

std::vector<double> averages(std::span<const double> x, std::size_t of) {
    std::vector<double> out(x.size() / of);
    for (std::size_t n = 0; n < out.size(); ++n) {
        const auto from = x.begin() + static_cast<std::ptrdiff_t>(n * of);
        out[n] = std::accumulate(from, from + static_cast<std::ptrdiff_t>(of), 0.0) /
                 static_cast<double>(of);
    }
    return out;
}

/// Where the correlation of the two is largest, among places from half the sound before the record
/// on; nothing where none stands out.
std::optional<std::int64_t> best_place(std::span<const double> sound,
                                       std::span<const double> record, double mean) {
    const std::size_t reach = sound.size();
    const std::size_t length = good_length_at_least(2 * reach + std::min(record.size(), 2 * reach));
    const std::size_t step = length - reach;
    const RealTransform transform{length};
    std::vector<double> block(length, 0.0);
    std::copy(sound.begin(), sound.end(), block.begin());
    const std::vector<std::complex<double>> wanted = transform.forward(block);

    double highest = 0.0;
    std::int64_t best = 0;
    double squares = 0.0;
    std::size_t count = 0;
    const auto end = static_cast<std::int64_t>(record.size());
    for (std::int64_t start = -static_cast<std::int64_t>(reach / 2); start < end;
         start += static_cast<std::int64_t>(step)) {
        for (std::size_t n = 0; n < length; ++n) {
            const std::int64_t at = start + static_cast<std::int64_t>(n);
            block[n] = at >= 0 && at < end ? record[static_cast<std::size_t>(at)] - mean : 0.0;
        }
        std::vector<std::complex<double>> product = transform.forward(block);
        for (std::size_t k = 0; k < product.size(); ++k) {
            product[k] *= std::conj(wanted[k]);
        }
        const std::vector<double> correlation = transform.inverse(std::move(product));
        for (std::size_t n = 0; n < step; ++n) {
            const std::int64_t at = start + static_cast<std::int64_t>(n);
            if (at >= end) {
                break;
            }
            const double size = std::abs(correlation[n]);
            squares += size * size;
            ++count;
            if (size > highest) {
                highest = size;
                best = at;
            }
        }
    }
    if (!(highest * highest * static_cast<double>(count) > stands_out * stands_out * squares)) {
        return std::nullopt;
    }
    return best;
}

double product_at(std::span<const double> sound, std::span<const double> record, double mean,
                  std::int64_t place) {
    const auto end = static_cast<std::int64_t>(record.size());
    const std::int64_t first = std::max<std::int64_t>(0, -place);
    const std::int64_t last = std::min(static_cast<std::int64_t>(sound.size()), end - place);
    double sum = 0.0;
    for (std::int64_t n = first; n < last; ++n) {
        sum += sound[static_cast<std::size_t>(n)] *
               (record[static_cast<std::size_t>(place + n)] - mean);
    }
    return std::abs(sum);
}

}  // namespace

std::optional<std::int64_t> arrival_of(std::span<const double> sound,
                                       std::span<const double> record) {
    if (sound.size() < 64 || record.empty()) {
        return std::nullopt;
    }
    const double mean =
        std::accumulate(record.begin(), record.end(), 0.0) / static_cast<double>(record.size());
    // Averages of a few samples find the place as well, as long as most of the sound is in them.
    const double whole = energy(sound);
    for (std::size_t of = most_averaged; of > 1; of /= 2) {
        if (sound.size() < of * least_left || record.size() < of * least_left) {
            continue;
        }
        const std::vector<double> short_sound = averages(sound, of);
        if (static_cast<double>(of) * energy(short_sound) < 0.5 * whole) {
            continue;
        }
        const auto rough = best_place(short_sound, averages(record, of), mean);
        if (!rough) {
            return std::nullopt;
        }
        const auto width = static_cast<std::int64_t>(of);
        std::int64_t best = *rough * width;
        double highest = 0.0;
        for (std::int64_t place = *rough * width - width; place <= *rough * width + width;
             ++place) {
            const double size = product_at(sound, record, mean, place);
            if (size > highest) {
                highest = size;
                best = place;
            }
        }
        return best;
    }
    return best_place(sound, record, mean);
}

}  // namespace afterload::analysis
