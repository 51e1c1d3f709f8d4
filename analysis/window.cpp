#include "analysis/window.hpp"

#include <array>
#include <cmath>
#include <numbers>

namespace afterload::analysis {

namespace {

struct CosineSum {
    WindowKind kind;
    std::string_view name;
    std::size_t terms;
    std::array<double, 11> a;
};

// clang-format off
constexpr std::array table{
    CosineSum{WindowKind::rectangular, "rectangular", 1,
              {1.0}},
    CosineSum{WindowKind::hann, "Hann", 2,
              {0.5, -0.5}},
    CosineSum{WindowKind::hamming, "Hamming", 2,
              {0.54, -0.46}},
    CosineSum{WindowKind::blackman, "Blackman", 3,
              {0.42, -0.5, 0.08}},
    CosineSum{WindowKind::blackman_harris_4, "Blackman-Harris 4-term", 4,
              {0.35875, -0.48829, 0.14128, -0.01168}},
    CosineSum{WindowKind::nuttall_4b, "Nuttall4b", 4,
              {0.355768, -0.487396, 0.144232, -0.012604}},
    CosineSum{WindowKind::nuttall_4c, "Nuttall4c", 4,
              {0.3635819, -0.4891775, 0.1365995, -0.0106411}},
    CosineSum{WindowKind::sft5m, "SFT5M", 5,
              {0.209671, -0.407331, 0.281225, -0.092669, 0.0091036}},
    CosineSum{WindowKind::hft70, "HFT70", 4,
              {1.0, -1.90796, 1.07349, -0.18199}},
    CosineSum{WindowKind::hft90d, "HFT90D", 5,
              {1.0, -1.942604, 1.340318, -0.440811, 0.043097}},
    CosineSum{WindowKind::hft95, "HFT95", 5,
              {1.0, -1.9383379, 1.3045202, -0.402827, 0.0350665}},
    CosineSum{WindowKind::hft116d, "HFT116D", 6,
              {1.0, -1.9575375, 1.4780705, -0.6367431, 0.1228389, -0.0066288}},
    CosineSum{WindowKind::hft144d, "HFT144D", 7,
              {1.0, -1.96760033, 1.57983607, -0.81123644, 0.22583558, -0.02773848, 0.0009036}},
    CosineSum{WindowKind::hft169d, "HFT169D", 8,
              {1.0, -1.97441842, 1.65409888, -0.95788186, 0.3367342, -0.06364621, 0.00521942,
               -0.00010599}},
    CosineSum{WindowKind::hft196d, "HFT196D", 9,
              {1.0, -1.97928042, 1.710288951, -1.081629853, 0.448734314, -0.112376628,
               0.015122992, -0.000871252, 1.1896e-05}},
    CosineSum{WindowKind::hft223d, "HFT223D", 10,
              {1.0, -1.98298997309, 1.75556083063, -1.19037717712, 0.56155440797, -0.17296769663,
               0.03233247087, -0.00324954578, 0.0001380104, -1.32725e-06}},
    CosineSum{WindowKind::hft248d, "HFT248D", 11,
              {1.0, -1.985844164102, 1.791176438506, -1.282075284005, 0.667777530266,
               -0.240160796576, 0.056656381764, -0.008134974479, 0.000624544650, -0.000019808998,
               0.000000132974}},
};
// clang-format on

const CosineSum& entry(WindowKind kind) {
    return table[static_cast<std::size_t>(kind)];
}

constexpr bool in_order() {
    for (std::size_t i = 0; i < table.size(); ++i) {
        if (static_cast<std::size_t>(table[i].kind) != i) {
            return false;
        }
    }
    return true;
}
static_assert(in_order());

// The value in the middle, where the signs of all terms agree.
double peak(std::span<const double> a) {
    double sum = 0.0;
    for (std::size_t k = 0; k < a.size(); ++k) {
        sum += k % 2 == 0 ? a[k] : -a[k];
    }
    return sum;
}

}  // namespace

std::string_view name(WindowKind kind) {
    return entry(kind).name;
}

const std::vector<WindowKind>& all_window_kinds() {
    static const std::vector<WindowKind> kinds = [] {
        std::vector<WindowKind> all;
        all.reserve(std::size(table));
        for (const CosineSum& row : table) {
            all.push_back(row.kind);
        }
        return all;
    }();
    return kinds;
}

std::span<const double> coefficients(WindowKind kind) {
    return std::span{entry(kind).a}.first(entry(kind).terms);
}

std::vector<double> window(WindowKind kind, std::size_t length) {
    const std::span<const double> a = coefficients(kind);
    const double scale = 1.0 / peak(a);
    const double step = 2.0 * std::numbers::pi / static_cast<double>(length);
    std::vector<double> cosines(length);
    for (std::size_t j = 0; j < length; ++j) {
        cosines[j] = std::cos(step * static_cast<double>(j));
    }
    // Every cosine of the sum is one of these: side lobes 248 dB down bear no recurrence. w[j] =
    // w[N-j].
    std::vector<double> w(length, 0.0);
    for (std::size_t j = 0; j <= length / 2 && j < length; ++j) {
        std::size_t turn = 0;
        for (const double term : a) {
            w[j] += scale * term * cosines[turn];
            turn = (turn + j) % length;
        }
        w[(length - j) % length] = w[j];
    }
    return w;
}

double coherent_gain(WindowKind kind) {
    return coefficients(kind)[0] / peak(coefficients(kind));
}

double noise_bandwidth_bins(WindowKind kind) {
    const std::span<const double> a = coefficients(kind);
    double sum = a[0] * a[0];
    for (std::size_t k = 1; k < a.size(); ++k) {
        sum += 0.5 * a[k] * a[k];
    }
    return sum / (a[0] * a[0]);
}

int main_lobe_bins(WindowKind kind) {
    return static_cast<int>(entry(kind).terms);
}

}  // namespace afterload::analysis
