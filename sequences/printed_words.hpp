/// The words of a rated figure as a service sheet prints it: numbers with their units, signs,
/// words.
///
/// Sheets write units in many ways (`ohms`, `KHz`, `dB(A)`, `µV`, `47 k`); here each has the symbol
/// that quantity_text.hpp knows. Separators (brackets, semicolons, a comma between two figures)
/// mean nothing and are left out.
#pragma once

#include "sequences/quantity_text.hpp"

#include <tl/expected.hpp>

#include <string>
#include <string_view>
#include <vector>

namespace afterload::sequences {

struct PrintedWord {
    enum class Kind {
        number,      ///< with its unit, where one follows
        plus,        ///< before a number
        minus,       ///< before a number, or between the ends of a band
        dash,        ///< between the ends of a band
        plus_minus,  ///< ±
        slash,       ///< as in +0/-1.5 dB, 150 mV/47 kohm, 1/2, 4:1
        times,       ///< as in 2 x 45 W
        below,       ///< <, ≤
        above,       ///< >, ≥
        word
    };
    Kind kind = Kind::word;
    std::string text;  ///< a number as read_quantity() takes it; a word in small letters
    std::string unit;  ///< of a number, as units_of() writes it; empty where none follows
    std::string printed;
};

/// Cuts a line into its words.
///
/// A comma in a number is a decimal point (`0,05 %`), or parts thousands of hertz (`20,000 Hz`);
/// where both readings are possible (`1,250 V`) it is a mistake. So is a character that no sheet
/// prints in a figure, and a line of more than 1000 bytes.
[[nodiscard]] tl::expected<std::vector<PrintedWord>, TextMistake> printed_words(
    std::string_view text);

/// A name without blanks and the marks within it, in small letters: "Speaker-A" and "speaker_a" are
/// one name.
[[nodiscard]] std::string bare_name(std::string_view name);

}  // namespace afterload::sequences
