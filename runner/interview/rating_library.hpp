/// The shop's rating sheets: folders of `*.rating.yaml`, looked through by maker and model.
#pragma once

#include "analysis/rating.hpp"

#include <cstddef>
#include <string>
#include <vector>

namespace afterload::runner {

struct LibrarySheet {
    std::string path;
    std::string text;
    RatingSheet sheet;
};

struct LibrarySearch {
    struct Folder {
        std::string path;
        bool there = false;
        std::size_t sheets = 0;      ///< that could be read
        std::size_t unreadable = 0;  ///< named like a sheet, and with a mistake
        bool more = false;           ///< it holds more than are looked at
    };
    std::vector<Folder> folders;
    std::vector<LibrarySheet> found;
};

/// Where rating sheets are looked for when nobody says: the folder that `file` is to lie in, and
/// `afterload/ratings` below $XDG_CONFIG_HOME (~/.config).
[[nodiscard]] std::vector<std::string> usual_libraries(const std::string& file);

/// Every sheet of this maker and model; capitals, blanks, dots and hyphens do not count. At most
/// 5000 files a folder are looked at; folders below it are not.
[[nodiscard]] LibrarySearch search_libraries(const std::vector<std::string>& folders,
                                             const std::string& maker, const std::string& model);

/// Where was searched, in one line.
[[nodiscard]] std::string words(const LibrarySearch& search);

}  // namespace afterload::runner
