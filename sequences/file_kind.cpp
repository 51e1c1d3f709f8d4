#include "sequences/file_kind.hpp"

#include <algorithm>
#include <array>
#include <string>
#include <utility>

namespace afterload::sequences {
namespace {

constexpr std::array<std::pair<std::string_view, FileKind>, 7> kinds{
    {{"rating", FileKind::rating},
     {"bench", FileKind::bench},
     {"sequence", FileKind::sequence},
     {"job", FileKind::job},
     {"daemon", FileKind::daemon},
     {"rig", FileKind::rig},
     {"hints", FileKind::hints}}};

}  // namespace

FileKind kind_of(std::string_view text, std::string_view path) {
    constexpr std::string_view key = "afterload:";
    const auto at = text.find(key);
    if (at != std::string_view::npos) {
        auto value = text.substr(at + key.size());
        value.remove_prefix(std::min(value.find_first_not_of(" \t\"'"), value.size()));
        for (const auto& [word, kind] : kinds) {
            if (value.starts_with(word)) {
                return kind;
            }
        }
    }
    for (const auto& [word, kind] : kinds) {
        if (path.find("." + std::string{word} + ".") != std::string_view::npos) {
            return kind;
        }
    }
    return FileKind::rating;
}

}  // namespace afterload::sequences
