/// The discrete Fourier transform of real samples: the one door to KissFFT, in double.
///
/// A transform object holds its twiddle factors; the last few lengths of each thread are kept, so
/// that making one again costs nothing. One object must not be used by two threads at once.
#pragma once

#include <complex>
#include <cstddef>
#include <memory>
#include <span>
#include <vector>

namespace afterload::analysis {

/// Is `length` even and of the form 2^a 3^b 5^c? Any other prime factor p costs O(p²).
[[nodiscard]] bool good_length(std::size_t length);

/// The largest good length that is not above `length`; 0 when `length` is below 2. A record is cut
/// to it and never padded to the next above: padding spoils a weight that counts on the record's
/// ends.
[[nodiscard]] std::size_t good_length_at_most(std::size_t length);

/// The smallest good length that is not below `length`: for products of spectra, where what is
/// appended is silence and counts as such.
[[nodiscard]] std::size_t good_length_at_least(std::size_t length);

/// X[k] = Σ x[n] e^{-2πjkn/N}, k = 0 … N/2, of real x.
///
/// Units   those of x times samples: nothing is scaled.
/// Shape   N is a good length; another one throws std::invalid_argument, as do spans that do not
/// fit.
class RealTransform {
public:
    explicit RealTransform(std::size_t length);
    ~RealTransform();
    RealTransform(RealTransform&&) noexcept;
    RealTransform& operator=(RealTransform&&) noexcept;
    RealTransform(const RealTransform&) = delete;
    RealTransform& operator=(const RealTransform&) = delete;

    [[nodiscard]] std::size_t length() const { return length_; }
    [[nodiscard]] std::size_t bins() const { return length_ / 2 + 1; }

    /// Transforms `samples` (length()) into `spectrum` (bins()); bin N/2 stands at its own place.
    void forward(std::span<const double> samples, std::span<std::complex<double>> spectrum) const;

    /// The same into a new vector.
    [[nodiscard]] std::vector<std::complex<double>> forward(std::span<const double> samples) const;

    /// x[n] = 1/N Σ X[k] e^{2πjkn/N} of the bins() of real x; the imaginary parts of bins 0 and N/2
    /// do not count. Works in the spectrum's own memory: hand it over where it is not needed again.
    [[nodiscard]] std::vector<double> inverse(std::vector<std::complex<double>> spectrum) const;

private:
    struct Twiddles;
    std::size_t length_;
    std::unique_ptr<Twiddles> twiddles_;
};

}  // namespace afterload::analysis
