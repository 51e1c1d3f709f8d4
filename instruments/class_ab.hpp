/// The output pair of a class AB stage: two exponential devices, each with an emitter resistor.
///
/// With quiescent current Iq, emitter resistor Re and thermal voltage Vt the currents Ip, In of the
/// two devices at output current I = Ip − In obey
///
///     Vt·ln(Ip·In/Iq²) + Re·(Ip + In − 2·Iq) = 0
///
/// (the bias spread is fixed) and the voltage lost from input to output is half the difference of
/// the two drops, δ(I) = ½·[Vt·ln(Ip/In) + Re·(Ip − In)]. With Iq·Re = Vt the slope of δ is nearly
/// constant; with less there is a kink around zero, which is crossover distortion.
///
/// Source  exponential junction law; the optimum Iq·Re = Vt is textbook knowledge (B. M. Oliver,
///         "Distortion in complementary-pair class-B amplifiers", Hewlett-Packard Journal, Feb
///         1971).
#pragma once

#include "instruments/odd_table.hpp"

namespace afterload::instruments {

struct OutputPair {
    double quiescent_amperes = 0.036;
    double emitter_ohms = 0.33;
    double thermal_volts = 0.026;
};

/// δ(I) − Re·I in volts for a current of at least zero amperes: what is lost beyond the resistor's
/// own drop, before feedback.
[[nodiscard]] double crossover_volts(const OutputPair& pair, double amperes);

/// crossover_volts() times `scale`, for currents up to 32 A.
[[nodiscard]] OddTable crossover_table(const OutputPair& pair, double scale);

}  // namespace afterload::instruments
