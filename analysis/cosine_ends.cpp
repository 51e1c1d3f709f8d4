#include "analysis/cosine_ends.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace afterload::analysis {

namespace {

// K(a) = Σ cos at over `count` centred points = sin(Ma/2)/sin(a/2), with its first two derivatives.
struct Kernel {
    double value = 0.0;
    double first = 0.0;
    double second = 0.0;
};

struct Angle {
    double h = 0.0;     // a/2 less the nearest multiple of π
    double sign = 1.0;  // of the kernel there
};

Angle reduced(double a, double count) {
    const double turns = std::round(0.5 * a / std::numbers::pi);
    const bool odd = std::fmod((count - 1.0) * turns, 2.0) != 0.0;
    return {0.5 * a - turns * std::numbers::pi, odd ? -1.0 : 1.0};
}

bool near_pole(double h, double count) {
    return std::abs(h) * count < 1e-3;
}

double kernel_value(double a, double count) {
    const auto [h, sign] = reduced(a, count);
    if (near_pole(h, count)) {
        return sign * count * (1.0 - (count * count - 1.0) * h * h / 6.0);
    }
    return sign * std::sin(count * h) / std::sin(h);
}

Kernel kernel(double a, double count) {
    const auto [h, sign] = reduced(a, count);
    if (near_pole(h, count)) {
        const double s2 = count * (count * count - 1.0) / 12.0;
        const double s4 = s2 * (3.0 * count * count - 7.0) / 20.0;
        const double b = 2.0 * h;
        return {sign * (count - 0.5 * b * b * s2), sign * (b * b * b * s4 / 6.0 - b * s2),
                sign * (0.5 * b * b * s4 - s2)};
    }
    const double sine = std::sin(h);
    const double cosine = std::cos(h);
    const double value = std::sin(count * h) / sine;
    const double first = (count * std::cos(count * h) - value * cosine) / sine;
    const double second = value * (1.0 - count * count) - 2.0 * first * cosine / sine;
    return {sign * value, 0.5 * sign * first, 0.25 * sign * second};
}

}  // namespace

CosineEnds::CosineEnds(std::size_t length, double ends) : length_{length} {
    const auto end =
        static_cast<std::size_t>(std::clamp(ends, 0.0, 1.0) * static_cast<double>(length) / 2.0);
    end_.resize(end);
    for (std::size_t k = 0; k < end; ++k) {
        end_[k] = 0.5 - 0.5 * std::cos(std::numbers::pi * (static_cast<double>(k) + 0.5) /
                                       static_cast<double>(end));
    }
    const double middle = static_cast<double>(length - 2 * end);
    const double middle_tt = middle * (middle * middle - 1.0) / 12.0;
    double sum = 0.0;
    double squares = 0.0;
    double wtt = 0.0;
    double wwtt = 0.0;
    for (std::size_t k = 0; k < end; ++k) {
        const double t = 0.5 * static_cast<double>(length - 1) - static_cast<double>(k);
        sum += end_[k];
        squares += end_[k] * end_[k];
        wtt += end_[k] * t * t;
        wwtt += end_[k] * end_[k] * t * t;
    }
    sum_ = middle + 2.0 * sum;
    sum_of_squares_ = middle + 2.0 * squares;
    if (length > 1) {
        frequency_noise_ = (middle_tt + 2.0 * wwtt) / (middle_tt + 2.0 * wtt);
    }
}

double CosineEnds::mean_square(std::span<const double> record) const {
    double sum = 0.0;
    for (std::size_t n = 0; n < record.size(); ++n) {
        sum += at(n) * record[n] * record[n];
    }
    return sum / sum_;
}

double CosineEnds::noise_gain() const {
    return static_cast<double>(length_) * sum_of_squares_ / (sum_ * sum_);
}

// Seen from its own middle, at distance c from the record's, the right end is ½ - ½ sin(πu/E); the
// left end mirrors it. Their sum is cos(ac) K(a) + ½ sin(ac) (K(a - π/E) - K(a + π/E)).
double CosineEnds::sum_of_cosine(double a) const {
    const double end = static_cast<double>(end_.size());
    const double middle = static_cast<double>(length_) - 2.0 * end;
    double d = middle > 0.0 ? kernel_value(a, middle) : 0.0;
    if (!end_.empty()) {
        const double c = 0.5 * (static_cast<double>(length_) - end);
        const double shift = std::numbers::pi / end;
        d += std::cos(a * c) * kernel_value(a, end) +
             0.5 * std::sin(a * c) * (kernel_value(a - shift, end) - kernel_value(a + shift, end));
    }
    return d;
}

CosineEnds::Sums CosineEnds::sums(double a) const {
    const double end = static_cast<double>(end_.size());
    const double middle = static_cast<double>(length_) - 2.0 * end;
    Kernel total = middle > 0.0 ? kernel(a, middle) : Kernel{};
    if (!end_.empty()) {
        const double c = 0.5 * (static_cast<double>(length_) - end);
        const double shift = std::numbers::pi / end;
        const Kernel k = kernel(a, end);
        const Kernel below = kernel(a - shift, end);
        const Kernel above = kernel(a + shift, end);
        const double cosine = std::cos(a * c);
        const double sine = 0.5 * std::sin(a * c);
        const double half_cosine = 0.5 * cosine;
        const double v = below.value - above.value;
        const double p = below.first - above.first;
        const double q = below.second - above.second;
        total.value += cosine * k.value + sine * v;
        total.first += cosine * k.first - 2.0 * sine * c * k.value + sine * p + half_cosine * c * v;
        total.second += cosine * (k.second - c * c * k.value) - 4.0 * sine * c * k.first +
                        sine * (q - c * c * v) + 2.0 * half_cosine * c * p;
    }
    return {total.value, -total.first, -total.second};
}

}  // namespace afterload::analysis
