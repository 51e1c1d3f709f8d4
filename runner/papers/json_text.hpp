/// JSON as text: how documents are written, and the door through which text comes back.
///
/// Numbers are written in the shortest form that reads back to the same double; what is not finite
/// is written as null, never NaN. Text that is not UTF-8 has its broken bytes replaced by U+FFFD.
#pragma once

#include <nlohmann/json.hpp>
#include <tl/expected.hpp>

#include <cstddef>
#include <string>
#include <string_view>

// Compiled once, in json_text.cpp: every source that speaks JSON would compile all of it again.
extern template class nlohmann::basic_json<nlohmann::ordered_map>;

namespace afterload::runner {

using Json = nlohmann::ordered_json;

/// For people: two spaces an indent, short arrays and objects of plain values on one line. Ends in
/// a newline.
[[nodiscard]] std::string pretty_json(const Json& document);

/// For streams: one line, no newline anywhere, none at the end.
[[nodiscard]] std::string json_line(const Json& document);

/// What a reader may be asked to swallow.
struct JsonLimits {
    std::size_t bytes = std::size_t{256} << 20U;
    int depth = 64;
};

/// Reads one JSON document.
///
/// Fails   larger than `limits.bytes`, nested deeper than `limits.depth`, a key that stands twice
/// in
///         one object, not UTF-8, or not JSON. The message is one line with the place; text that
///         only lacks its end is called torn.
[[nodiscard]] tl::expected<Json, std::string> parse_json(std::string_view text,
                                                         const JsonLimits& limits = {});

}  // namespace afterload::runner
