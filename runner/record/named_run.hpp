/// A run as a person names it: by its folder, or by the name under which it stands in a list.
#pragma once

#include "runner/options.hpp"

#include <string>

namespace afterload::runner {

/// `word` where it is a folder; where it is a mere name, the folder of that name below runs, else
/// among the runs of the daemon behind `socket`. `word` itself where none is there: who opens it
/// says so.
[[nodiscard]] std::string folder_of_run(const std::string& word, const std::string& socket);

/// The words of a command with the folders of the runs that it names.
[[nodiscard]] Options with_folders_of_runs(Options options);

}  // namespace afterload::runner
