/// A rated figure as a service sheet prints it, understood: `45 W + 45 W into 8 ohms, 20 Hz-20 kHz,
/// 0.05 %`, `150 mV/47 kohm`, `+0/-1.5 dB`, `90 dB (IHF-A)`.
///
/// Nothing is guessed in silence: every word of the text is understood, or the text is not taken.
/// What a printed word means beyond its unit is common practice of service sheets: "45 W + 45 W"
/// has both channels driven; "IHF-A" is the weighting A and says nothing of reference and
/// termination.
#pragma once

#include "analysis/rating.hpp"
#include "sequences/quantity_text.hpp"

#include <tl/expected.hpp>

#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace afterload::sequences {

/// What the unit's own words are; a text may name them.
struct PrintedNames {
    std::vector<std::string> inputs;
    std::vector<std::string> outputs;
};

struct PrintedFigure {
    /// Figure, limit and conditions. The source is set where the text names a page. Of a nominal
    /// value without a tolerance `limit` has the nominal value alone.
    RatedFigure rated;
    /// A power bandwidth has two limits: `rated` is then its lower end, this its upper one.
    std::optional<Limit> upper_end;
    /// What is printed beside and no rating holds: "input impedance 47 kohm".
    std::vector<std::string> beside;

    /// A nominal value is no limit until it has a tolerance.
    [[nodiscard]] bool without_tolerance() const {
        return !rated.limit.at_least && !rated.limit.at_most;
    }
};

/// Understands what a sheet prints for a figure of `kind`. Values are in the unit of the figure.
///
/// Which side is the limit follows from the kind (a distortion is rated at most, a power at least)
/// where the text does not say. Of a figure that is better neither smaller nor larger (a
/// sensitivity) the printed value is the nominal one.
///
/// Fails   with what is wrong and an example to write: a word that is not known, a number without
///         its unit, two values, a reading that is possible in two ways.
[[nodiscard]] tl::expected<PrintedFigure, TextMistake> read_printed_figure(
    std::string_view text, FigureKind kind, const PrintedNames& names);

/// One condition of a figure of `kind` alone, as it is answered when it is asked for: "8 ohms" for
/// `load`, "IHF-A" for `weighting`. A band is taken for `frequency` too: the tone was moved over
/// it.
[[nodiscard]] tl::expected<Conditions, TextMistake> read_printed_condition(
    std::string_view text, std::string_view key, FigureKind kind, const PrintedNames& names);

/// Gives a nominal value the tolerance in `text`: in the figure's own unit, in per cent, or in
/// decibels of a voltage or a power; "±" may stand before it.
[[nodiscard]] tl::expected<Limit, TextMistake> with_tolerance(const Limit& nominal,
                                                              std::string_view text,
                                                              FigureKind kind);

/// How a sheet prints a figure of this kind, as an example to write.
[[nodiscard]] std::string_view printed_example(FigureKind kind);

}  // namespace afterload::sequences
