/// Hints as a document (schema "afterload/hints/1").
#pragma once

#include "runner/hints/hints.hpp"
#include "runner/papers/json_text.hpp"
#include "runner/papers/run_document.hpp"

namespace afterload::runner {

[[nodiscard]] Json hints_json(const RunDocument& run, const Hints& hints);

}  // namespace afterload::runner
