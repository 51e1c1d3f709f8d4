/// Signal-to-noise under any of the references in use, and from one to another.
///
/// One and the same noise is 62 dB re 50 mW, 75 dB re 1 W and 95 dB re 100 W: a ratio without its
/// reference is no figure. Re an input voltage the reference stands at the output through the gain.
#pragma once

#include "analysis/failure.hpp"
#include "analysis/measure.hpp"

#include <optional>

namespace afterload::analysis {

/// A reference as a sheet names it, and the volts that it stands for where the noise was measured.
struct SignalReference {
    LevelTarget level;
    VoltsRms at_output;
    Budget budget{};  ///< dB; of the gain that carried it to the output, empty for the others
};

/// The volts behind `level`: rated output and its fractions (`load` and `rated` stated), 1 W or
/// 50 mW (`load`), an output voltage, or an input voltage such as 5 mV or 0.5 V (drive_volts, with
/// the measured `gain` from that input, a ratio of volts).
///
/// Fails   out_of_range: what else has to be known.
[[nodiscard]] Expected<SignalReference> signal_reference(const LevelTarget& level,
                                                         std::optional<Ohms> load,
                                                         std::optional<Watts> rated,
                                                         std::optional<AmplitudeRatio> gain);

/// 20 lg of the reference over `noise` (a figure of noise()), dB. The volts of the reference stand
/// among the details as `reference`.
///
/// The budget holds both parts. A systematic source that the two share (one card's calibration, one
/// divider) moves signal and noise alike: only its difference counts (GUM 5.2.2, r = 1).
[[nodiscard]] Figure signal_to_noise(const Figure& noise, const SignalReference& to);

/// `ratio`, a figure of signal_to_noise(), under another reference. The step is shown in the
/// details: converted_from (V), reference (V), conversion (dB).
///
/// A reference converts by arithmetic only while the noise stays what it was. `wanted` are the
/// conditions of the rating that asks: where it states a weighting, detector, bandwidth, volume,
/// termination, input, output or tone control that the measurement did not have, the figure is
/// unresolved and says which.
[[nodiscard]] Figure converted(const Figure& ratio, const SignalReference& to,
                               const Conditions& wanted);

}  // namespace afterload::analysis
