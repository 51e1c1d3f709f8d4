/// Hints on the report: where to look first, with what speaks for it and against it.
#pragma once

#include "runner/hints/hints.hpp"
#include "runner/papers/html_text.hpp"

namespace afterload::runner {

/// A section of its own with the id "hints"; nothing where there are none.
void put_hints(Html& html, const Hints& hints);

}  // namespace afterload::runner
