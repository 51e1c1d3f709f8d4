#include "analysis/transform.hpp"

#include <kissfft/kissfft.hh>

#include <algorithm>
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

// KissFFT takes half the length for real input and keeps bin N/2 in the imaginary part of bin 0.
struct RealTransform::Twiddles {
    explicit Twiddles(std::size_t length) : fft{length / 2, false} {}
    kissfft<double> fft;
};

namespace {
std::size_t checked(std::size_t length) {
    if (!good_length(length)) {
        throw std::invalid_argument{"a transform needs an even length of the form 2^a 3^b 5^c"};
    }
    return length;
}
}  // namespace

RealTransform::RealTransform(std::size_t length)
    : length_{checked(length)}, twiddles_{std::make_unique<Twiddles>(length)} {}
RealTransform::~RealTransform() = default;
RealTransform::RealTransform(RealTransform&&) noexcept = default;
RealTransform& RealTransform::operator=(RealTransform&&) noexcept = default;

void RealTransform::forward(std::span<const double> samples,
                            std::span<std::complex<double>> spectrum) const {
    if (samples.size() != length_ || spectrum.size() != bins()) {
        throw std::invalid_argument{"a transform was given spans of another length"};
    }
    twiddles_->fft.transform_real(samples.data(), spectrum.data());
    spectrum.back() = {spectrum.front().imag(), 0.0};
    spectrum.front() = {spectrum.front().real(), 0.0};
}

std::vector<std::complex<double>> RealTransform::forward(std::span<const double> samples) const {
    std::vector<std::complex<double>> spectrum(bins());
    forward(samples, spectrum);
    return spectrum;
}

}  // namespace afterload::analysis
