#include "runner/disk_room.hpp"

#include <fmt/format.h>

#include <filesystem>
#include <system_error>

namespace afterload::runner {
namespace {

constexpr std::uint64_t mebibyte = std::uint64_t{1} << 20U;
constexpr std::uint64_t to_begin = 256 * mebibyte;
constexpr std::uint64_t to_go_on = 32 * mebibyte;

tl::expected<void, std::string> room(const std::string& folder, std::uint64_t needed) {
    const auto free = free_bytes(folder);
    if (!free || *free >= needed) {
        return {};
    }
    return tl::unexpected(fmt::format(
        "{}: {} MiB are free on its disk and {} MiB are needed: move old runs elsewhere", folder,
        *free / mebibyte, needed / mebibyte));
}

}  // namespace

std::optional<std::uint64_t> free_bytes(const std::string& folder) {
    std::error_code error;
    const auto space = std::filesystem::space(folder, error);
    return error ? std::nullopt : std::optional{static_cast<std::uint64_t>(space.available)};
}

tl::expected<void, std::string> room_to_begin(const std::string& folder) {
    return room(folder, to_begin);
}
tl::expected<void, std::string> room_to_go_on(const std::string& folder) {
    return room(folder, to_go_on);
}

}  // namespace afterload::runner
