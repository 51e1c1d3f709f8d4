/// Files of the repository, for tests.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

namespace afterload::sequences {

/// A path below the root of the sources.
[[nodiscard]] std::filesystem::path source_path(const std::string& below);

/// The bytes of a file; the test fails where it cannot be read.
[[nodiscard]] std::string file_text(const std::filesystem::path& path);

/// Files of `folder` (below the root of the sources) whose name ends in `ending`, sorted.
[[nodiscard]] std::vector<std::filesystem::path> files_of(const std::string& folder,
                                                          const std::string& ending);

}  // namespace afterload::sequences
