/// Output impedance and damping factor from the voltage that a load takes off.
///
/// The difference of two nearly equal voltages: at a damping factor of 100 an error of 0.1 % in
/// their ratio is 10 % of the impedance, at 500 half of it. That is carried through, and an
/// impedance that cannot be told from zero is a bound.
///
/// Source  IEC 60268-3, output source impedance by the change of voltage with the load.
#pragma once

#include "analysis/measure.hpp"

#include <string>

namespace afterload::analysis {

/// Two records of one channel at one drive and one frequency, sensed at the unit's terminals.
struct LoadPair {
    const ToneRecord& loaded;   ///< its bench share names the load
    const ToneRecord& lighter;  ///< a larger load; no load in its share: open
    /// How far gain, drive and the input's linearity may have moved the ratio of the two voltages
    /// between the records, relative, k = 1; and its identity.
    double ratio_u_k1 = 0.0;
    std::string ratio_source;
    /// What the load's current passes between the terminals and the place where the voltage is
    /// sensed. Zero with sense leads of their own. It reads as output impedance in full.
    Ohms shared_lead;
};

/// Z = (U1 - U2) / (U2/R2 - U1/R1), loaded with R2 and lighter with R1; the calibration of the
/// volts cancels. From magnitudes, so it is the resistive part: a reactance X beside R2 adds
/// X²/(2 R2) only.
///
/// Units   ohm; condition `load` is the heavier load.
/// Fails   unresolved without a known load, with loads nearer to each other than 1.5 to 1, with
///         two different tones, with a tone in the noise, and when the voltage rises under load by
///         more than the uncertainty explains.
[[nodiscard]] Figure output_impedance(const LoadPair& records);

/// `nominal` over the output impedance, a plain number; condition `load` is `nominal`. At least so
/// much where the impedance is a bound. The uncertainty is symmetric in ohms and is scored there.
[[nodiscard]] Figure damping_factor(const Figure& output_impedance, Ohms nominal);

}  // namespace afterload::analysis
