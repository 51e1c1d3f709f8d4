/// A sequence (`afterload: sequence/1`) from its text.
#pragma once

#include "sequences/diagnostic.hpp"
#include "sequences/sequence.hpp"

#include <tl/expected.hpp>

#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace afterload::sequences {

/// Values for parameters that replace their defaults: name, text (`--set name=text`).
using Overrides = std::vector<std::pair<std::string, std::string>>;

/// Reads a sequence. `${name}` in a step is replaced by the parameter's text before the value is
/// read, so a parameter has the type of the place where it stands. References do not nest.
///
/// Fails   with every mistake of the file, among them a parameter that is not there; never throws.
///         `path` is named in the mistakes, kept in the result and gives the sequence its name.
[[nodiscard]] tl::expected<Sequence, Diagnostics> read_sequence(std::string_view text,
                                                                std::string path,
                                                                const Overrides& overrides = {});

/// What a step may ask a meter for: names of instruments/meter.hpp.
[[nodiscard]] const std::vector<std::string_view>& step_quantities();

/// What a meter may read: those, and what calibration asks for.
[[nodiscard]] const std::vector<std::string_view>& meter_quantities();

/// The cautions that ship, by name, with their text. A step may name one or write its own.
struct Caution {
    std::string_view name;
    std::string_view text;
};
[[nodiscard]] const std::vector<Caution>& shipped_cautions();
/// The text of a caution: that of the shipped one of this name, else the words themselves.
[[nodiscard]] std::string_view caution_text(std::string_view name_or_text);

}  // namespace afterload::sequences
