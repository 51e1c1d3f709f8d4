#include "tests/sequences/file_text.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <fstream>
#include <sstream>

namespace afterload::sequences {

std::filesystem::path source_path(const std::string& below) {
    return std::filesystem::path{AFTERLOAD_SOURCE_DIR} / below;
}

std::string file_text(const std::filesystem::path& path) {
    std::ifstream file{path, std::ios::binary};
    EXPECT_TRUE(file.good()) << path;
    std::ostringstream text;
    if (file.peek() != std::ifstream::traits_type::eof()) {  // nothing to stream is a failure to <<
        text << file.rdbuf();
    }
    return text.str();
}

std::vector<std::filesystem::path> files_of(const std::string& folder, const std::string& ending) {
    std::vector<std::filesystem::path> files;
    for (const auto& entry : std::filesystem::directory_iterator{source_path(folder)}) {
        if (entry.is_regular_file() && entry.path().string().ends_with(ending)) {
            files.push_back(entry.path());
        }
    }
    std::sort(files.begin(), files.end());
    EXPECT_FALSE(files.empty()) << folder << " " << ending;
    return files;
}

}  // namespace afterload::sequences
