/// Lists of one kind of thing as JSON, and back.
#pragma once

#include "runner/papers/json_place.hpp"
#include "runner/papers/json_text.hpp"

#include <string_view>
#include <vector>

namespace afterload::runner {

/// An array of what `to_json` makes of each.
template <class Item, class ToJson>
[[nodiscard]] Json list(const std::vector<Item>& items, ToJson to_json) {
    Json out = Json::array();
    for (const Item& item : items) {
        out.push_back(to_json(item));
    }
    return out;
}

/// What `from_json` reads from each of the array called `key`; its absence is a misfit.
template <class FromJson>
[[nodiscard]] auto get_list(const JsonPlace& place, std::string_view key, FromJson from_json) {
    std::vector<decltype(from_json(place))> items;
    for (const JsonPlace& item : place.at(key).items()) {
        items.push_back(from_json(item));
    }
    return items;
}

}  // namespace afterload::runner
