/// What an instrument answers, read: numbers, identities, entries of the error queue.
///
/// Source  SCPI-99, volume 1: 7.2.1 (numbers, 9.9E37 for infinity and 9.91E37 for what is no
///         number), 21.8 (SYSTem:ERRor?); IEEE Std 488.2-1992, 8.7 (response elements) and 10.14
///         (*IDN?).
#pragma once

#include <optional>
#include <string>
#include <string_view>

namespace afterload::instruments {

/// A number as an instrument writes it: "1", "-0.25", "+1.500000E-03". `reading` is absent for
/// 9.9E37 and 9.91E37, with which an instrument says overload and "nothing measured".
struct ScpiNumber {
    std::optional<double> reading;
};
/// Nothing where `text` is no number.
[[nodiscard]] std::optional<ScpiNumber> scpi_number(std::string_view text);

/// An entry of the error queue: -113,"Undefined header". 0 is no error.
struct ScpiError {
    int code = 0;
    std::string text;
};
/// Nothing where `text` is no such entry.
[[nodiscard]] std::optional<ScpiError> scpi_error(std::string_view text);

/// The four fields of *IDN?: maker, model, serial, firmware. A field that is 0 is not known.
struct ScpiIdentity {
    std::string maker;
    std::string model;
    std::string serial;
    std::string firmware;
};
/// Nothing where `text` has no four fields.
[[nodiscard]] std::optional<ScpiIdentity> scpi_identity(std::string_view text);

/// `text` as a person may see it: what cannot be printed as \x1b, at most 60 characters of it.
[[nodiscard]] std::string shown(std::string_view text);

}  // namespace afterload::instruments
