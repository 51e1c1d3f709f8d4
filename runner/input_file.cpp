#include "runner/input_file.hpp"

#include <filesystem>
#include <fstream>
#include <iostream>
#include <istream>

namespace afterload::runner {
namespace {

constexpr std::size_t most_bytes = std::size_t{1} << 20U;
constexpr std::size_t most_recording_bytes = std::size_t{256} << 20U;

tl::expected<std::string, std::string> read_all(std::istream& in, const std::string& path,
                                                std::size_t most = most_bytes) {
    std::string text;
    char block[65536];
    while (in.read(block, sizeof block) || in.gcount() > 0) {
        text.append(block, static_cast<std::size_t>(in.gcount()));
        if (text.size() > most) {
            return tl::unexpected(path + ": is larger than " + std::to_string(most >> 20U) +
                                  " MiB: is it the right file?");
        }
    }
    return text;
}

}  // namespace

tl::expected<std::string, std::string> read_recording_bytes(const std::string& path) {
    std::ifstream file{path, std::ios::binary};
    if (!file) {
        return tl::unexpected(path + ": is not there, or may not be read");
    }
    return read_all(file, path, most_recording_bytes);
}

tl::expected<std::string, std::string> read_input(const std::string& path) {
    if (path == "-") {
        return read_all(std::cin, "standard input");
    }
    std::error_code error;
    if (std::filesystem::is_directory(path, error)) {
        return tl::unexpected(path + ": is a folder, not a file");
    }
    std::ifstream file{path, std::ios::binary};
    if (!file) {
        return tl::unexpected(path + ": is not there, or may not be read");
    }
    return read_all(file, path);
}

}  // namespace afterload::runner
