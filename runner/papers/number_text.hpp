/// How numbers are written for people: digits that the uncertainty supports, a prefix that value
/// and limit share, and never rounded onto or across the limit.
///
/// Two hands write: the terminal's (ASCII digits, "-", plain spaces) and the page's (U+2212 for
/// minus, U+202F between number and unit, digits in threes from 10 000). A number is first made as
/// terminal text; page() turns it into the page's.
#pragma once

#include "analysis/figure.hpp"
#include "analysis/rating.hpp"

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>

namespace afterload::runner {

inline constexpr std::string_view narrow_space = "\u202f";

/// A unit as printed: shown number = SI number * `factor`. An empty symbol is a bare number.
struct ShownUnit {
    double factor = 1.0;
    std::string symbol;
};

/// The unit in which figures of `kind` are printed when `guide` (the limit, else the value, SI)
/// leads. Distortions are per cent, damping factors bare; volts and amperes take the prefix that
/// brings the guide to 1 or more (thousandths from 0.1), hertz and ohms turn to thousands at 1000.
[[nodiscard]] ShownUnit shown_unit(FigureKind kind, double guide);

/// Decimals for a value whose expanded uncertainty is `expanded` (shown unit): the uncertainty has
/// two digits when its first is 1 or 2, else one. Negative for tens and hundreds. Nothing for an
/// uncertainty that is zero or unknown.
[[nodiscard]] std::optional<int> decimals_for(double expanded);

/// Decimals that give `value` this many significant digits.
[[nodiscard]] int decimals_of(double value, int significant);

/// `value` rounded to `decimals`, trailing zeros kept, "-0.00" written "0.00".
[[nodiscard]] std::string fixed(double value, int decimals);

/// At most `significant` digits, trailing zeros dropped, never an exponent: 0.05, 40, 17.9, 20000.
[[nodiscard]] std::string plain(double value, int significant = 6);

/// The fewest decimals, from `decimals` on, at which `value` is not written onto or across a side
/// of `limit` that it does not stand on. `limit` is in the shown unit.
[[nodiscard]] int decimals_clear_of(double value, int decimals, const Limit& limit);

/// `limit` times `factor`.
[[nodiscard]] Limit scaled(const Limit& limit, double factor);

/// A limit without its unit: "≥ 40", "≤ 0.05", "± 1", "35.6 ± 1", "34.6 to 36.6".
[[nodiscard]] std::string limit_text(const Limit& shown);

/// "1 run", "3 runs".
[[nodiscard]] std::string how_many(std::size_t count, std::string_view noun);

/// A quantity with the prefix that suits it: "8 Ω", "997 Hz", "20 kHz", "47 kΩ", "0.5 V", "22 °C".
/// At most `significant` digits.
[[nodiscard]] std::string quantity_text(double value, std::string_view symbol, int significant = 4);

/// Terminal text as the page writes it: minus signs before digits, narrow no-break spaces between
/// number and unit and round ±, whole parts of five digits and more in threes.
[[nodiscard]] std::string page(std::string_view text);
/// With a capital letter where it begins with one of a to z.
[[nodiscard]] std::string capitalised(std::string text);

}  // namespace afterload::runner
