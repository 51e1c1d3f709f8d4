/// What the words beside a printed figure mean.
#pragma once

#include "sequences/printed_words.hpp"

#include <cstddef>
#include <optional>
#include <span>
#include <string_view>
#include <vector>

namespace afterload::sequences {

enum class PrintedMeaning {
    nothing,  ///< into, at, continuous, the figure's own name
    weighting_a,
    weighting_none,
    weighting_468,
    letter_a,  ///< the weighting beside a noise, else the article
    flat,      ///< no weighting beside a noise, else the tone controls
    quasi_peak,
    rms,
    both_channels,
    left_channel,
    right_channel,
    shorted,
    open,
    terminated,
    volume_maximum,
    volume_zero,
    maximum,  ///< a limit: no more than
    minimum,  ///< a limit: no less than
    better,   ///< a limit, on the side that is worse
    direct,
    tone_flat,
    rated,
    half_rated,
    reference,
    bandwidth,
    impedance,
    into,
    page,
    to,
    in,
    out,
    unclear  ///< known, but it names more than one way: `advice` says what to write
};

struct PrintedPhrase {
    std::string_view words;  ///< separated by single blanks
    PrintedMeaning meaning = PrintedMeaning::nothing;
    std::string_view advice{};  ///< of what is unclear
};

/// The longest phrase that `words` begins with, and how many of them it takes.
struct FoundPhrase {
    const PrintedPhrase* phrase = nullptr;
    std::size_t taken = 0;
};
[[nodiscard]] std::optional<FoundPhrase> printed_phrase(std::span<const PrintedWord> words);

/// Every single word of the phrases, for the nearest to one that is not known.
[[nodiscard]] std::vector<std::string_view> printed_phrase_words();

}  // namespace afterload::sequences
