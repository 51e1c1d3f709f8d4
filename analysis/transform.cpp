#include "analysis/transform.hpp"

#include <kissfft/kissfft.hh>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <stdexcept>

namespace afterload::analysis {

bool good_length(std::size_t length) {
    if (length < 2 || length % 2 != 0) {
        return false;
    }
    for (const std::size_t factor : {2U, 3U, 5U}) {
        while (length % factor == 0) {
            length /= factor;
        }
    }
    return length == 1;
}

std::size_t good_length_at_most(std::size_t length) {
    std::size_t best = 0;
    for (std::size_t fives = 2; fives <= length; fives *= 5) {
        for (std::size_t threes = fives; threes <= length; threes *= 3) {
            std::size_t twos = threes;
            while (twos <= length / 2) {
                twos *= 2;
            }
            best = std::max(best, twos);
        }
    }
    return best;
}

std::size_t good_length_at_least(std::size_t length) {
    std::size_t best = std::numeric_limits<std::size_t>::max();
    for (std::size_t fives = 2; fives < 5 * length + 10; fives *= 5) {
        for (std::size_t threes = fives; threes < 3 * length + 6; threes *= 3) {
            std::size_t twos = threes;
            while (twos < length) {
                twos *= 2;
            }
            best = std::min(best, twos);
        }
    }
    return best;
}

namespace {

using Plan = kissfft<double>;

/// The twiddle factors of one length and direction: those used last are kept, since captures of one
/// length come one after another and making them takes as long as half a transform. Shared by
/// copies only: a plan of factors 2, 3 and 5 is not written to by a transform.
std::shared_ptr<const Plan> plan_of(std::size_t length, bool back) {
    struct Kept {
        std::size_t length;
        bool back;
        std::shared_ptr<const Plan> plan;
    };
    constexpr std::size_t most = 4;
    constexpr std::size_t most_points = std::size_t{1} << 20U;  // 16 MiB
    thread_local std::vector<Kept> kept;
    auto found = std::find_if(kept.begin(), kept.end(), [&](const Kept& entry) {
        return entry.length == length && entry.back == back;
    });
    if (found == kept.end()) {
        std::size_t points = length;
        for (const Kept& entry : kept) {
            points += entry.length;
        }
        while (!kept.empty() && (kept.size() >= most || points > most_points)) {
            points -= kept.back().length;
            kept.pop_back();
        }
        kept.push_back({length, back, std::make_shared<const Plan>(length, back)});
        found = kept.end() - 1;
    }
    std::rotate(kept.begin(), found, found + 1);
    return kept.front().plan;
}

std::size_t checked(std::size_t length) {
    if (!good_length(length)) {
        throw std::invalid_argument{"a transform needs an even length of the form 2^a 3^b 5^c"};
    }
    return length;
}

}  // namespace

// KissFFT takes half the length for real input and keeps bin N/2 in the imaginary part of bin 0.
struct RealTransform::Twiddles {
    std::shared_ptr<const Plan> forward;
    std::shared_ptr<const Plan> back;  // when first asked for: most transforms only go forward
};

RealTransform::RealTransform(std::size_t length)
    : length_{checked(length)},
      twiddles_{std::make_unique<Twiddles>(Twiddles{plan_of(length / 2, false), nullptr})} {}
RealTransform::~RealTransform() = default;
RealTransform::RealTransform(RealTransform&&) noexcept = default;
RealTransform& RealTransform::operator=(RealTransform&&) noexcept = default;

void RealTransform::forward(std::span<const double> samples,
                            std::span<std::complex<double>> spectrum) const {
    if (samples.size() != length_ || spectrum.size() != bins()) {
        throw std::invalid_argument{"a transform was given spans of another length"};
    }
    twiddles_->forward->transform_real(samples.data(), spectrum.data());
    spectrum.back() = {spectrum.front().imag(), 0.0};
    spectrum.front() = {spectrum.front().real(), 0.0};
}

std::vector<std::complex<double>> RealTransform::forward(std::span<const double> samples) const {
    std::vector<std::complex<double>> spectrum(bins());
    forward(samples, spectrum);
    return spectrum;
}

std::vector<double> RealTransform::inverse(std::vector<std::complex<double>> spectrum) const {
    if (spectrum.size() != bins()) {
        throw std::invalid_argument{"a transform was given a spectrum of another length"};
    }
    const std::size_t half = length_ / 2;
    if (!twiddles_->back) {
        twiddles_->back = plan_of(half, true);
    }
    // Even and odd samples are the real and imaginary part of one transform of half the length. Its
    // input takes the place of the spectrum, bin k and bin N/2 - k at a time.
    constexpr std::size_t restart = 64;  // the rotation starts anew, exactly, every so many bins
    const double turn = 2.0 * std::numbers::pi / static_cast<double>(length_);
    const std::complex<double> step = std::polar(1.0, turn);
    std::complex<double> rotation;
    spectrum.front() = spectrum.front().real();
    spectrum.back() = spectrum.back().real();
    for (std::size_t k = 0; 2 * k <= half; ++k) {
        rotation =
            k % restart == 0 ? std::polar(1.0, turn * static_cast<double>(k)) : rotation * step;
        const std::complex<double> here = spectrum[k];
        const std::complex<double> mirror = std::conj(spectrum[half - k]);
        const std::complex<double> even = here + mirror;
        const std::complex<double> odd = rotation * (here - mirror);
        spectrum[half - k] = std::conj(even) + std::complex{odd.imag(), odd.real()};
        spectrum[k] = even + std::complex{-odd.imag(), odd.real()};
    }
    std::vector<double> samples(length_);
    // KissFFT reads and writes real samples as pairs in the same way.
    twiddles_->back->transform(spectrum.data(),
                               reinterpret_cast<std::complex<double>*>(samples.data()));
    const double scale = 1.0 / static_cast<double>(length_);
    for (double& x : samples) {
        x *= scale;
    }
    return samples;
}

}  // namespace afterload::analysis
