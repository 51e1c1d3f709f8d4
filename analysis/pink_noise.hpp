/// Pink noise as a loop: equal power in every octave of a band, its peaks bounded.
#pragma once

#include "analysis/conditions.hpp"
#include "analysis/quantity.hpp"

#include <cstddef>
#include <cstdint>
#include <vector>

namespace afterload::analysis {

/// One period of a noise that goes round without a seam.
///
/// Units   none: the largest magnitude is 1, so that 1 / crest is the rms.
/// Shape   `length` a good length (transform.hpp), 2 at least; the band inside 0 and half the rate;
///         `crest` (peak over rms) 2.5 to 6. Others throw std::invalid_argument.
///
/// The density falls by 3 dB an octave inside the band (within 0.5 dB a third of an octave) and is
/// at least 40 dB lower outside it. Phases are random; peaks above the crest are cut and the
/// spectrum is put back, over and over, until both hold.
[[nodiscard]] std::vector<double> pink_noise_loop(std::size_t length, SampleRate rate, Band band,
                                                  double crest, std::uint64_t seed);

}  // namespace afterload::analysis
