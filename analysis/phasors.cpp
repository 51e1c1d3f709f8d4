#include "analysis/phasors.hpp"

#include "analysis/sine_kernel.hpp"

#include <numeric>

namespace afterload::analysis {

std::vector<std::complex<double>> phasors(std::span<const double> record, double omega,
                                          std::span<const double> weight, std::size_t hop) {
    constexpr std::size_t lanes = TurningSines::lanes;
    const std::size_t length = weight.size();
    std::vector<std::complex<double>> result;
    if (length == 0 || hop == 0 || record.size() < length) {
        return result;
    }
    result.reserve((record.size() - length) / hop + 1);
    const double scale = 2.0 / std::accumulate(weight.begin(), weight.end(), 0.0);
    const SineKernel& kernel = sine_kernel();
    const SineLine line{omega};
    for (std::size_t start = 0; start + length <= record.size(); start += hop) {
        const double* const x = record.data() + start;
        LaneSums sums;
        TurningSines turning = line.at(static_cast<double>(start));
        const std::size_t whole = length / lanes * lanes;
        kernel.project(weight.data(), x, whole, turning, sums);
        for (std::size_t m = whole, i = 0; m < length; ++m, ++i) {
            sums.cosine[0] += weight[m] * x[m] * turning.cosine[i];
            sums.sine[0] += weight[m] * x[m] * turning.sine[i];
        }
        result.emplace_back(scale * total(sums.cosine), scale * -total(sums.sine));
    }
    return result;
}

}  // namespace afterload::analysis
