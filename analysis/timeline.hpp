/// Slips of the sample count inside a record, found through the phase of its tone.
///
/// A lost buffer moves everything after it by whole samples: the tone's phase jumps by that many
/// times its turn a sample while its level stays. A unit that changes moves level or phase by
/// anything.
#pragma once

#include <complex>
#include <cstdint>
#include <optional>
#include <span>
#include <vector>

namespace afterload::analysis {

/// Radians: a tone's phase that jumps by less is taken for the record's own unsteadiness. A slip of
/// nearly whole periods turns a tone by little, and spoils a record all the same.
constexpr double least_jump = 0.012;

/// A tone seen through short overlapping pieces.
struct ToneHistory {
    std::vector<std::complex<double>> phasors;  ///< at the nominal frequency, see phasors.hpp
    std::size_t piece = 0;                      ///< samples of one
    std::size_t hop = 0;                        ///< a quarter of it
    double median = 0.0;                        ///< of their magnitudes
    double scatter =
        0.0;  ///< robust relative deviation of the magnitudes: 0.6 and up without a tone
};

/// Hann pieces of at least four cycles and 5 ms, two cycles where the record is short. Nothing when
/// it holds fewer than six pieces: then its timeline cannot be told.
[[nodiscard]] std::optional<ToneHistory> tone_history(std::span<const double> record, double omega,
                                                      double rate_hz);

struct Slip {
    std::size_t at = 0;       ///< first sample after it
    std::int64_t frames = 0;  ///< above 0: so many are missing; below: so many stand twice
};

/// Whole-sample slips in `record` at a tone near `omega` radians a sample. A slip is known modulo
/// the tone's period: the smallest that is whole within the noise is given, or one whose samples do
/// stand twice.
[[nodiscard]] std::vector<Slip> slips(std::span<const double> record, double omega,
                                      const ToneHistory& history);

/// First sample from which the tone `after` fits `record` better than `before`. Both are phasors at
/// its first sample, peak volts; either may be nothing.
[[nodiscard]] std::size_t border(std::span<const double> record, double omega,
                                 std::complex<double> before, std::complex<double> after);

/// The slip at about `at` in `record` that turned its tone by `angle`: the smallest whole number of
/// samples within `tolerance` of it, at most `most`, or one whose samples do stand twice. Nothing
/// when no whole number fits.
[[nodiscard]] std::optional<Slip> whole_slip(std::span<const double> record, std::size_t at,
                                             double angle, double omega, double tolerance,
                                             double most);

}  // namespace afterload::analysis
