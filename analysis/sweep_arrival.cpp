#include "analysis/sweep_arrival.hpp"

#include "analysis/transform.hpp"

#include <algorithm>
#include <cmath>
#include <complex>
#include <cstddef>
#include <numeric>
#include <vector>

namespace afterload::analysis {

namespace {

constexpr double stands_out = 6.0;

}  // namespace

std::optional<std::int64_t> arrival_of(std::span<const double> sound,
                                       std::span<const double> record) {
    if (sound.size() < 64 || record.empty()) {
        return std::nullopt;
    }
    const std::size_t reach = sound.size();
    const std::size_t length = good_length_at_least(2 * reach + std::min(record.size(), 2 * reach));
    const std::size_t step = length - reach;
    const RealTransform transform{length};
    std::vector<double> block(length, 0.0);
    std::copy(sound.begin(), sound.end(), block.begin());
    const std::vector<std::complex<double>> wanted = transform.forward(block);
    const double mean =
        std::accumulate(record.begin(), record.end(), 0.0) / static_cast<double>(record.size());

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
        const std::vector<double> correlation = transform.inverse(product);
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

}  // namespace afterload::analysis
