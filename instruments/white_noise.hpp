/// Standard deviation of white samples whose A-weighted level is stated.
#pragma once

namespace afterload::instruments {

/// Equivalent noise bandwidth of the A-weighting for white noise up to 24 kHz, in hertz.
///
/// Source  IEC 61672-1:2013, annex E: the weighting as a rational function of frequency.
[[nodiscard]] double a_weighted_bandwidth();

/// Standard deviation of samples at `rate_hertz` with the same noise density as `volts_a` has.
[[nodiscard]] double white_sigma(double volts_a, double rate_hertz);

}  // namespace afterload::instruments
