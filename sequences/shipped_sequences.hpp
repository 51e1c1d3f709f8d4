/// The sequences that ship, in the program too: run by their names, and a new one begins with any
/// of them, wherever the program runs.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace afterload::sequences {

struct ShippedSequence {
    std::string_view name;  ///< of its file, without the endings: quick-check
    std::string title;
    std::string purpose;    ///< the first sentence of the comment it begins with
    std::string_view text;  ///< the whole file
};

/// In the order in which a repair needs them: at arrival, verification, its parts, soak.
[[nodiscard]] const std::vector<ShippedSequence>& shipped_sequences();

/// The one with that name; nullptr where none has it.
[[nodiscard]] const ShippedSequence* shipped_sequence(std::string_view name);

struct ShippedText {
    std::string_view name;
    std::string_view text;
};

/// They as they lie in sequences/shipped.
[[nodiscard]] std::vector<ShippedText> shipped_sequence_texts();

}  // namespace afterload::sequences
