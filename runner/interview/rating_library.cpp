#include "runner/interview/rating_library.hpp"

#include "runner/input_file.hpp"
#include "sequences/printed_words.hpp"
#include "sequences/rating_reader.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cstdlib>
#include <filesystem>
#include <system_error>

namespace afterload::runner {
namespace {

constexpr std::size_t most_sheets = 5000;

std::string environment(const char* name) {
    const char* value = std::getenv(name);  // NOLINT(concurrency-mt-unsafe): before any thread
    return value == nullptr ? "" : value;
}

LibrarySearch::Folder search_folder(const std::string& path, const std::string& maker,
                                    const std::string& model, std::vector<LibrarySheet>& found) {
    LibrarySearch::Folder folder;
    folder.path = path;
    std::error_code error;
    std::vector<std::string> files;
    for (std::filesystem::directory_iterator each{path, error}, end; !error && each != end;
         each.increment(error)) {
        if (each->path().filename().string().ends_with(".rating.yaml")) {
            folder.more = files.size() >= most_sheets;
            if (folder.more) {
                break;
            }
            files.push_back(each->path().string());
        }
    }
    folder.there = !error;
    std::sort(files.begin(), files.end());
    for (const std::string& file : files) {
        auto text = read_input(file);
        auto sheet =
            text ? sequences::read_rating(*text, file) : tl::unexpected(sequences::Diagnostics{});
        if (!sheet) {
            ++folder.unreadable;
            continue;
        }
        ++folder.sheets;
        if (sheet->unit &&
            sequences::bare_name(sheet->unit->maker) == sequences::bare_name(maker) &&
            sequences::bare_name(sheet->unit->model) == sequences::bare_name(model)) {
            found.push_back({file, *std::move(text), *std::move(sheet)});
        }
    }
    return folder;
}

}  // namespace

std::vector<std::string> usual_libraries(const std::string& file) {
    const std::filesystem::path beside = std::filesystem::path{file}.parent_path();
    std::vector<std::string> folders{beside.empty() ? "." : beside.string()};
    const std::string home = environment("HOME");
    std::string settings = environment("XDG_CONFIG_HOME");
    if (settings.empty() && !home.empty()) {
        settings = home + "/.config";
    }
    if (!settings.empty()) {
        folders.push_back(settings + "/afterload/ratings");
    }
    return folders;
}

LibrarySearch search_libraries(const std::vector<std::string>& folders, const std::string& maker,
                               const std::string& model) {
    LibrarySearch search;
    for (const std::string& folder : folders) {
        search.folders.push_back(search_folder(folder, maker, model, search.found));
    }
    return search;
}

std::string words(const LibrarySearch& search) {
    std::string out;
    for (const LibrarySearch::Folder& folder : search.folders) {
        out += out.empty() ? "Searched " : ", ";
        out += folder.path;
        if (!folder.there) {
            out += " (not there)";
            continue;
        }
        out += fmt::format(
            " ({} {}{}{})", folder.sheets, folder.sheets == 1 ? "rating sheet" : "rating sheets",
            folder.unreadable == 0
                ? ""
                : fmt::format(", {} with mistakes: afterload check tells them", folder.unreadable),
            folder.more ? ", and more that were not looked at" : "");
    }
    return out + ".";
}

}  // namespace afterload::runner
