#include "analysis/phasors.hpp"

#include "analysis/rotor.hpp"

#include <array>
#include <numeric>

namespace afterload::analysis {

std::vector<std::complex<double>> phasors(std::span<const double> record, double omega,
                                          std::span<const double> weight, std::size_t hop) {
    constexpr std::size_t lanes = Rotor::lanes;
    const std::size_t length = weight.size();
    std::vector<std::complex<double>> result;
    if (length == 0 || hop == 0 || record.size() < length) {
        return result;
    }
    result.reserve((record.size() - length) / hop + 1);
    const double scale = 2.0 / std::accumulate(weight.begin(), weight.end(), 0.0);
    Rotor rotor{omega};
    for (std::size_t start = 0; start + length <= record.size(); start += hop) {
        const double* const x = record.data() + start;
        std::array<Pair, Rotor::pairs> real{};
        std::array<Pair, Rotor::pairs> imaginary{};
        rotor.start(static_cast<double>(start));
        std::size_t m = 0;
        for (; m + lanes <= length; m += lanes) {
            for (std::size_t i = 0; i < Rotor::pairs; ++i) {
                const Pair weighted = load(&weight[m + 2 * i]) * load(x + m + 2 * i);
                real[i] += weighted * rotor.cosine[i];
                imaginary[i] += weighted * rotor.sine[i];
            }
            rotor.turn();
        }
        for (std::size_t i = 0; m < length; ++m, ++i) {
            real[0][0] += weight[m] * x[m] * rotor.cosine[i / 2][i % 2];
            imaginary[0][0] += weight[m] * x[m] * rotor.sine[i / 2][i % 2];
        }
        Pair sums{0.0, 0.0};
        for (std::size_t i = 0; i < Rotor::pairs; ++i) {
            sums += Pair{real[i][0] + real[i][1], -imaginary[i][0] - imaginary[i][1]};
        }
        result.emplace_back(scale * sums[0], scale * sums[1]);
    }
    return result;
}

}  // namespace afterload::analysis
