/// The sequences that ship, in the program too: a new one begins with any of them, wherever the
/// program runs.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace afterload::sequences {

struct ShippedSequence {
    std::string title;
    std::string purpose;    ///< the first sentence of the comment it begins with
    std::string_view text;  ///< the whole file
};

/// In the order in which a repair needs them: at arrival, verification, its parts, soak.
[[nodiscard]] const std::vector<ShippedSequence>& shipped_sequences();

/// Their texts as they lie in sequences/shipped.
[[nodiscard]] std::vector<std::string_view> shipped_sequence_texts();

}  // namespace afterload::sequences
