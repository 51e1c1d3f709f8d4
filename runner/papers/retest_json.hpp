/// What a retest says of itself, as JSON: schema "afterload/retest/1". The same object is an input
/// file of its run and "retest" of the run's document.
#pragma once

#include "runner/papers/json_place.hpp"
#include "runner/papers/json_text.hpp"
#include "runner/papers/retest_of.hpp"

#include <tl/expected.hpp>

#include <string>
#include <string_view>

namespace afterload::runner {

[[nodiscard]] Json retest_json(const RetestOf& retest);
/// And back; throws JsonMisfit.
[[nodiscard]] RetestOf get_retest(const JsonPlace& place);
/// The same from a text. Fails, in one line, when it is none.
[[nodiscard]] tl::expected<RetestOf, std::string> read_retest(std::string_view text);

}  // namespace afterload::runner
