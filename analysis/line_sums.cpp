#include "analysis/line_sums.hpp"

#include "analysis/sine_kernel.hpp"

#include <algorithm>
#include <array>
#include <cmath>

namespace afterload::analysis {

namespace {

constexpr std::size_t lanes = TurningSines::lanes;
constexpr std::size_t block = 1024;

template <bool WithTime>
LineSums sums_at(const FoldedRecord& record, double omega) {
    const SineKernel& kernel = sine_kernel();
    const SineLine line{omega};
    LaneSums sums;
    const std::size_t count = record.even.size();
    const double* const even = record.even.data();
    const double* const odd = record.odd.data();
    for (std::size_t begin = 0; begin < count; begin += block) {
        const std::size_t size = std::min(block, count - begin);
        const std::size_t whole = size / lanes * lanes;
        const double first_t = record.first_t + static_cast<double>(begin);
        TurningSines turning = line.at(first_t);
        if constexpr (WithTime) {
            kernel.sums_with_time(even + begin, odd + begin, whole, first_t, turning, sums);
        } else {
            kernel.sums(even + begin, odd + begin, whole, turning, sums);
        }
        for (std::size_t j = begin + whole, i = 0; j < begin + size; ++j, ++i) {
            const double c = turning.cosine[i];
            const double s = turning.sine[i];
            sums.cosine[0] += even[j] * c;
            sums.sine[0] += odd[j] * s;
            if constexpr (WithTime) {
                const double t = record.first_t + static_cast<double>(j);
                sums.t_cosine[0] += t * odd[j] * c;
                sums.t_sine[0] += t * even[j] * s;
            }
        }
    }
    return {total(sums.cosine), total(sums.sine), total(sums.t_cosine), total(sums.t_sine)};
}

double first_time(std::size_t length) {
    return length % 2 == 0 ? 0.5 : 0.0;
}

// Index of the sample at +t and of the one at -t for entry j.
struct Twins {
    std::size_t after;
    std::size_t before;
};
Twins twins(std::size_t j, std::size_t length) {
    return {length / 2 + j, (length - 1) / 2 - j};
}

}  // namespace

FoldedRecord folded(std::span<const double> record, const CosineEnds& weight) {
    const std::size_t length = record.size();
    const std::size_t count = (length + 1) / 2;
    FoldedRecord result{std::vector<double>(count), std::vector<double>(count), first_time(length),
                        length};
    for (std::size_t j = 0; j < count; ++j) {
        const auto [after, before] = twins(j, length);
        const double w = weight.at(after);
        result.even[j] = w * (record[after] + record[before]);
        result.odd[j] = w * (record[after] - record[before]);
    }
    if (length % 2 != 0) {
        result.even[0] *= 0.5;
    }
    return result;
}

FoldedRecord folded_power(int power, const CosineEnds& weight) {
    const std::size_t length = weight.length();
    const std::size_t count = (length + 1) / 2;
    FoldedRecord result{std::vector<double>(count, 0.0), std::vector<double>(count, 0.0),
                        first_time(length), length};
    std::vector<double>& part = power % 2 == 0 ? result.even : result.odd;
    for (std::size_t j = 0; j < count; ++j) {
        const double t = (result.first_t + static_cast<double>(j)) / static_cast<double>(length);
        part[j] = 2.0 * weight.at(twins(j, length).after) * std::pow(t, power);
    }
    if (length % 2 != 0) {
        part[0] *= 0.5;
    }
    return result;
}

double power_sum(const FoldedRecord& record, int power) {
    const std::vector<double>& part = power % 2 == 0 ? record.even : record.odd;
    const double scale = 1.0 / static_cast<double>(record.length);
    double sum = 0.0;
    for (std::size_t j = 0; j < part.size(); ++j) {
        double term = part[j];
        const double t = scale * (record.first_t + static_cast<double>(j));
        for (int p = 0; p < power; ++p) {
            term *= t;
        }
        sum += term;
    }
    return sum;
}

LineSums line_sums(const FoldedRecord& record, double omega) {
    return sums_at<false>(record, omega);
}

LineSums line_sums_with_time(const FoldedRecord& record, double omega) {
    return sums_at<true>(record, omega);
}

void subtract(std::span<double> record, std::span<const Line> lines, std::span<const double> dc) {
    const std::size_t length = record.size();
    const std::size_t count = (length + 1) / 2;
    const double first_t = first_time(length);
    const double scale = 1.0 / static_cast<double>(length);
    const SineKernel& kernel = sine_kernel();
    std::vector<SineLine> sines;
    sines.reserve(lines.size());
    for (const Line& line : lines) {
        sines.emplace_back(line.omega);
    }
    // The model's even and odd part at the times of one block; padded to whole lanes.
    std::array<double, block> even{};
    std::array<double, block> odd{};
    for (std::size_t begin = 0; begin < count; begin += block) {
        const std::size_t size = std::min(block, count - begin);
        const std::size_t padded = (size + lanes - 1) / lanes * lanes;
        even.fill(0.0);
        odd.fill(0.0);
        for (std::size_t l = 0; l < lines.size(); ++l) {
            kernel.add(lines[l].cosine, lines[l].sine, padded,
                       sines[l].at(first_t + static_cast<double>(begin)), even.data(), odd.data());
        }
        for (std::size_t p = 0; p < dc.size(); ++p) {
            std::array<double, block>& part = p % 2 == 0 ? even : odd;
            for (std::size_t j = 0; j < size; ++j) {
                double term = dc[p];
                const double t = scale * (first_t + static_cast<double>(begin + j));
                for (std::size_t q = 0; q < p; ++q) {
                    term *= t;
                }
                part[j] += term;
            }
        }
        for (std::size_t j = 0; j < size; ++j) {
            const auto [after, before] = twins(begin + j, length);
            record[after] -= even[j] + odd[j];
            if (before != after) {
                record[before] -= even[j] - odd[j];
            }
        }
    }
}

}  // namespace afterload::analysis
