/// A soak as it stands in a step of the run document, and back.
#pragma once

#include "runner/papers/json_place.hpp"
#include "runner/papers/json_text.hpp"
#include "runner/papers/soak_document.hpp"

namespace afterload::runner {

[[nodiscard]] Json soak_json(const SoakResult& soak);
/// Throws JsonMisfit, with its place.
[[nodiscard]] SoakResult get_soak(const JsonPlace& place);

}  // namespace afterload::runner
