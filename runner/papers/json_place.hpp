/// A value inside a JSON document together with the way to it, so that every complaint names its
/// place: "steps[3].figures[1].u_k1: a number is needed, found text".
#pragma once

#include "runner/papers/json_text.hpp"

#include <cstdint>
#include <limits>
#include <optional>
#include <stdexcept>
#include <string>
#include <string_view>
#include <vector>

namespace afterload::runner {

/// Thrown by JsonPlace and caught where a document is read; `what()` is the whole message.
class JsonMisfit : public std::runtime_error {
public:
    using std::runtime_error::runtime_error;
};

class JsonPlace {
public:
    explicit JsonPlace(const Json& value, std::string path = {})
        : value_{&value}, path_{std::move(path)} {}

    /// The member called `key`; an object that lacks it is a misfit.
    [[nodiscard]] JsonPlace at(std::string_view key) const;
    /// The member called `key`, if it is there and not null.
    [[nodiscard]] std::optional<JsonPlace> find(std::string_view key) const;
    [[nodiscard]] std::vector<JsonPlace> items() const;
    /// Keys of an object, in the order in which they stand.
    [[nodiscard]] std::vector<std::string> keys() const;

    [[nodiscard]] std::string text() const;
    [[nodiscard]] double number() const;
    [[nodiscard]] int whole() const;
    [[nodiscard]] std::uint64_t whole_unsigned() const;
    [[nodiscard]] bool boolean() const;
    [[nodiscard]] bool is_null() const { return value_->is_null(); }
    [[nodiscard]] std::vector<double> numbers() const;  ///< null stands for NaN
    [[nodiscard]] std::vector<std::string> texts() const;

    // Members with what stands for them when they are absent.
    [[nodiscard]] std::string text_or(std::string_view key, std::string_view absent = {}) const;
    [[nodiscard]] double number_or(std::string_view key, double absent) const;
    [[nodiscard]] bool boolean_or(std::string_view key, bool absent) const;
    [[nodiscard]] std::optional<double> maybe_number(std::string_view key) const;
    [[nodiscard]] std::optional<std::string> maybe_text(std::string_view key) const;

    [[noreturn]] void misfit(std::string_view what) const;

private:
    const Json* value_;
    std::string path_;
};

/// The value that `named` gives for the text at `place`, or a misfit that quotes the text.
template <class Named>
[[nodiscard]] auto named_value(const JsonPlace& place, Named named) {
    const std::string text = place.text();
    const auto value = named(text);
    if (!value) {
        place.misfit("\"" + text.substr(0, 40) + "\" is not known here");
    }
    return *value;
}

}  // namespace afterload::runner
