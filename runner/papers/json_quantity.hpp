/// A quantity that may be absent, as a number in its SI unit under a key that names the unit.
#pragma once

#include "runner/papers/json_place.hpp"
#include "runner/papers/json_text.hpp"

#include <optional>
#include <string_view>

namespace afterload::runner {

/// Adds nothing where there is none.
template <class Quantity>
void put_quantity(Json& out, const char* key, const std::optional<Quantity>& value) {
    if (value) {
        out[key] = value->template in<Quantity>();
    }
}

/// Absent where the key is; anything but a number is a misfit.
template <class Quantity>
[[nodiscard]] std::optional<Quantity> get_quantity(const JsonPlace& place, std::string_view key) {
    const auto number = place.maybe_number(key);
    return number ? std::optional{Quantity{*number}} : std::nullopt;
}

}  // namespace afterload::runner
