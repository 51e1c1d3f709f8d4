/// Mistakes in files, shown: all of them, then the count. As JSON with --json.
#pragma once

#include "runner/options.hpp"
#include "runner/papers/json_text.hpp"
#include "sequences/diagnostic.hpp"

#include <vector>

namespace afterload::runner {

/// A list of them: file, line, column, what, advice.
[[nodiscard]] Json mistakes_json(const std::vector<sequences::Diagnostics>& files);

/// The document (schema "afterload/mistakes/1") of such a list.
[[nodiscard]] Json mistakes_document(Json list, int exit_status);

/// Prints every mistake of every file and the count line; gives `exit_status` back.
int show_mistakes(const OutputOptions& options, const std::vector<sequences::Diagnostics>& files,
                  int exit_status);

}  // namespace afterload::runner
