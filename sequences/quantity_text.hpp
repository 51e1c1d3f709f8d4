/// Quantities as a person writes them, both ways: `2.83 V`, `-60 dBV`, `0.03 %`, `1/8 rated`,
/// `rated - 3 dB`, `20 Hz..20 kHz`, `47 kohm`, `20 min`.
///
/// A number stands before its unit, with or without a space; a decimal point and never a comma.
/// What is read is in SI units (degrees Celsius for temperatures, K/min for their rise). A bare
/// number where a unit is due, an unknown unit, a unit of another kind, infinity, not-a-number and
/// numbers that no bench has are mistakes that say what to write.
#pragma once

#include "analysis/conditions.hpp"
#include "analysis/figure.hpp"

#include <tl/expected.hpp>

#include <string>
#include <string_view>
#include <vector>

namespace afterload::sequences {

/// The kinds of quantity a file can hold, each with its units.
enum class Dimension {
    volts,              ///< rms: V, mV, uV, kV, dBV, dBu
    volts_peak,         ///< V peak, mV peak
    volts_dc,           ///< V, mV, uV; signed
    ohms,               ///< ohm, mohm, kohm, Mohm, and with Ω
    watts,              ///< W, mW, kW, dBW
    amperes,            ///< A, mA, uA
    hertz,              ///< Hz, kHz, MHz
    seconds,            ///< s, ms, us, min, h
    celsius,            ///< degC, °C
    ratio,              ///< of voltages: %, ppm, dB
    decibels,           ///< dB
    dbfs,               ///< dBFS
    per_kelvin,         ///< ppm/K, %/K
    per_second,         ///< 1/s, 1/min, 1/h
    kelvin_per_minute,  ///< K/min, degC/min; read in K/min
    number              ///< no unit: damping factor, counts
};

/// What is wrong with a text, and what to write.
struct TextMistake {
    std::string what;
    std::string advice;
};

/// The value of `text` in the SI unit of `dimension`. `noun` names what is read, for the mistake:
/// "a load".
[[nodiscard]] tl::expected<double, TextMistake> read_quantity(std::string_view text,
                                                              Dimension dimension,
                                                              std::string_view noun);

/// The value as a front panel prints it, with the prefix that leaves 1 to 1000 before the point,
/// and as many digits as it takes to read back the very same number. `value` must be finite.
[[nodiscard]] std::string quantity_text(double value, Dimension dimension);

/// A band: `20 Hz..20 kHz`. Fails when it is empty or begins below zero.
[[nodiscard]] tl::expected<Band, TextMistake> read_band(std::string_view text,
                                                        std::string_view noun);
[[nodiscard]] std::string band_text(Band band);

/// Two quantities of one dimension with two points between: `-1 dB..+0.5 dB`; the lower first.
struct Span {
    double low = 0.0;
    double high = 0.0;
};
[[nodiscard]] tl::expected<Span, TextMistake> read_span(std::string_view text, Dimension dimension,
                                                        std::string_view noun);

/// Where a level stands decides what `1 V` means: a step drives with it, a sheet rates an output at
/// it.
enum class LevelUse { step, rating };

/// A level: `0.5 V`, `-20 dBFS`, `1 W`, `rated`, `1/8 rated`, `rated - 3 dB`. In a sheet `5 mV in`
/// is a level at the input.
[[nodiscard]] tl::expected<LevelTarget, TextMistake> read_level(std::string_view text, LevelUse use,
                                                                std::string_view noun);

/// The dimension in which a file states a figure and its limit.
[[nodiscard]] Dimension dimension_of(FigureKind figure);

/// The units of a dimension, the one to suggest first: "V", "mV", ...
[[nodiscard]] std::vector<std::string_view> units_of(Dimension dimension);

/// A whole number written with digits alone: no sign but minus, no leading zeros, no point.
[[nodiscard]] tl::expected<long long, TextMistake> read_integer(std::string_view text,
                                                                std::string_view noun);

}  // namespace afterload::sequences
