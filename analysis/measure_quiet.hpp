/// The figures of an idle unit from one record that is taken apart once (quiet_record.hpp).
#pragma once

#include "analysis/measure.hpp"
#include "analysis/quiet_record.hpp"
#include "analysis/random_steps.hpp"

namespace afterload::analysis {

/// As noise() of a waveform, mains lines included. Details where mains lines are told apart:
/// without_mains_lines (V). Through ITU-R 468: rms has re_2_khz (V; 0 dB at 2 kHz instead of 1 kHz,
/// the use of AES17), quasi-peak has largest_indication (V).
[[nodiscard]] Figure noise(const QuietRecord& record, int channel, const NoiseSettings& settings,
                           const BenchShare& bench, Conditions conditions);

/// Gives a figure of unweighted noise the curve behind it: density in V per root hertz, mains lines
/// and other lines left out, `columns` of them a decade. A density that cannot be had gives none.
void add_density(Figure& noise, const QuietRecord& record, int columns_a_decade);

[[nodiscard]] Figure hum_voltage(const QuietRecord& record, int channel, const BenchShare& bench,
                                 Conditions conditions);

/// Steps and clicks a second. None seen is a bound: at most three over the time watched, with which
/// one in twenty records would be so quiet; it holds for events of at least smallest_step and
/// smallest_click, which are among the details (V). Details besides: watched (s), threshold
/// (deviations), steps_per_second, clicks_per_second, step_size (V, median), largest_step,
/// largest_click, and the first twenty events of each kind as step_1_at (s), step_1 (V, signed).
[[nodiscard]] Figure random_steps(const QuietRecord& record, int channel, const BenchShare& bench,
                                  Conditions conditions);

}  // namespace afterload::analysis
