#include "analysis/coarse_frequency.hpp"

#include "analysis/comb_fit.hpp"
#include "analysis/cosine_ends.hpp"
#include "analysis/line_sums.hpp"
#include "analysis/phasors.hpp"

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>

namespace afterload::analysis {

namespace {

using Phasors = std::vector<std::complex<double>>;
constexpr double two_pi = 2.0 * std::numbers::pi;

std::vector<double> hann(std::size_t length) {
    std::vector<double> w(length);
    for (std::size_t k = 0; k < length; ++k) {
        w[k] = 0.5 - 0.5 * std::cos(two_pi * (static_cast<double>(k) + 0.5) /
                                    static_cast<double>(length));
    }
    return w;
}

// Σ over whole segments of |Σ w z e^{-jδb}|²: the power at `turn` radians a phasor.
double segment_power(std::span<const std::complex<double>> z, const std::vector<double>& weight,
                     double turn) {
    const std::complex<double> step = std::polar(1.0, -turn);
    double power = 0.0;
    for (std::size_t start = 0; start + weight.size() <= z.size(); start += weight.size()) {
        std::complex<double> rotation{1.0, 0.0};
        std::complex<double> sum{0.0, 0.0};
        for (std::size_t b = 0; b < weight.size(); ++b) {
            sum += weight[b] * z[start + b] * rotation;
            rotation *= step;
        }
        power += std::norm(sum);
    }
    return power;
}

// Top of a parabola through three neighbouring powers, in steps from the middle one.
double vertex(double left, double middle, double right) {
    const double a = std::log(std::max(left, 1e-300));
    const double b = std::log(std::max(middle, 1e-300));
    const double c = std::log(std::max(right, 1e-300));
    const double curve = a - 2.0 * b + c;
    return curve < 0.0 ? std::clamp(0.5 * (a - c) / curve, -0.5, 0.5) : 0.0;
}

template <class Power>
double highest(double centre, double reach, double step, const Power& power) {
    const auto side = static_cast<int>(std::ceil(reach / step));
    std::vector<double> powers;
    for (int i = -side; i <= side; ++i) {
        powers.push_back(power(centre + i * step));
    }
    const auto best =
        static_cast<std::size_t>(std::max_element(powers.begin(), powers.end()) - powers.begin());
    double place = static_cast<double>(best) - side;
    if (best > 0 && best + 1 < powers.size()) {
        place += vertex(powers[best - 1], powers[best], powers[best + 1]);
    }
    return centre + place * step;
}

double coarse_by_least_squares(std::span<const double> record, double nominal, double reach) {
    const double n = static_cast<double>(record.size());
    const CosineEnds weight{record.size(), 0.1};
    const FoldedRecord halves = folded(record, weight);
    const double least = two_pi / n;
    return highest(nominal, reach, 0.2 * two_pi / n, [&](double omega) {
        if (omega < least || omega > std::numbers::pi - least) {
            return 0.0;
        }
        CombFit fit{halves, weight, 0};
        fit.add({omega, {1}, false});
        // The constant is in the model: what it explains is no merit of the tone.
        return fit.solve_amplitudes() ? std::pow(fit.lines(0)[0].amplitude(), 2) : 0.0;
    });
}

}  // namespace

double coarse_tone(std::span<const double> record, double nominal, double reach) {
    const double n = static_cast<double>(record.size());
    if (nominal * n < 12.0 * two_pi) {
        return coarse_by_least_squares(record, nominal, reach);
    }
    double mean = 0.0;
    for (const double x : record) {
        mean += x;
    }
    mean /= n;
    std::vector<double> centred(record.begin(), record.end());
    for (double& x : centred) {
        x -= mean;
    }

    // A piece turns by at most a quarter of a half turn at the edge of the reach.
    const auto longest = static_cast<std::size_t>(std::max(1.0, two_pi / (8.0 * reach)));
    const std::size_t piece = std::clamp<std::size_t>(longest, 1, record.size() / 16);
    const Phasors z = phasors(centred, nominal, std::vector<double>(piece, 1.0), piece);
    const double length = static_cast<double>(piece);

    // Segments in which the reach is some eight cycles at first.
    auto segment = static_cast<std::size_t>(std::ceil(8.0 * two_pi / (reach * length)));
    double offset = 0.0;
    double wide = reach * length;
    while (true) {
        segment = std::min(segment, z.size());
        const std::vector<double> w = hann(segment);
        const double step = 0.5 * two_pi / static_cast<double>(segment);
        offset =
            highest(offset, wide, step, [&](double turn) { return segment_power(z, w, turn); });
        if (segment == z.size()) {
            break;
        }
        wide = step;
        segment *= 4;
    }
    return nominal + offset / length;
}

std::optional<double> coarse_mains(std::span<const double> record, double nominal,
                                   const std::vector<int>& orders) {
    // Pieces of whole cycles of every order, short against ±1 % of the tenth.
    const double n = static_cast<double>(record.size());
    const double cycle = two_pi / nominal;
    const double cycles = std::max(1.0, std::floor(std::min(3.0, n / cycle / 10.0)));
    const auto piece = static_cast<std::size_t>(std::lround(cycles * cycle));
    if (piece == 0 || record.size() < 2 * piece) {
        return std::nullopt;
    }
    const std::vector<double> flat(piece, 1.0);
    struct Tooth {
        double order;
        Phasors z;
        double power;
    };
    std::vector<Tooth> teeth;
    double strongest = 0.0;
    for (const int order : orders) {
        Tooth tooth{static_cast<double>(order), phasors(record, order * nominal, flat, piece), 0.0};
        for (const std::complex<double>& z : tooth.z) {
            tooth.power += std::norm(z);
        }
        strongest = std::max(strongest, tooth.power);
        teeth.push_back(std::move(tooth));
    }
    std::erase_if(teeth, [strongest](const Tooth& t) { return t.power < 0.01 * strongest; });
    if (teeth.empty() || strongest <= 0.0) {
        return std::nullopt;
    }
    double top = 1.0;
    for (const Tooth& tooth : teeth) {
        top = std::max(top, tooth.order);
    }

    const std::vector<double> w = hann(teeth.front().z.size());
    const double reach = 0.01 * nominal * static_cast<double>(piece);
    const double step =
        std::min(reach, 0.4 * two_pi / (top * static_cast<double>(teeth.front().z.size())));
    const auto comb_power = [&](double turn) {
        double power = 0.0;
        for (const Tooth& tooth : teeth) {
            power += segment_power(tooth.z, w, tooth.order * turn);
        }
        return power;
    };
    const double turn = highest(0.0, reach, step, comb_power);
    // Is the power at the peak more than noise would put there? Each tooth is one coherent value
    // out of as many as it has pieces.
    const double pieces = static_cast<double>(teeth.front().z.size());
    double coherent = 0.0;
    double whole = 0.0;
    const std::vector<double> even(teeth.front().z.size(), 1.0);
    for (const Tooth& tooth : teeth) {
        coherent += segment_power(tooth.z, even, tooth.order * turn) / pieces;
        whole += tooth.power;
    }
    if (std::abs(turn) > reach || coherent * (pieces - 1.0) < 8.0 * (whole - coherent)) {
        return std::nullopt;
    }
    return nominal + turn / static_cast<double>(piece);
}

}  // namespace afterload::analysis
