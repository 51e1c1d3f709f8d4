#include "instruments/wire/wire_list.hpp"

#include "instruments/wire/scpi_session.hpp"

#include <algorithm>
#include <filesystem>
#include <string_view>
#include <system_error>
#include <utility>

namespace afterload::instruments {
namespace {

constexpr Seconds patience{0.7};

/// Paths in `folder` whose name begins with `start`, in their order.
std::vector<std::string> paths_in(const char* folder, std::string_view start) {
    std::vector<std::string> found;
    std::error_code error;
    for (const auto& entry : std::filesystem::directory_iterator{folder, error}) {
        if (entry.path().filename().string().starts_with(start)) {
            found.push_back(entry.path().string());
        }
    }
    std::sort(found.begin(), found.end());
    return found;
}

Task<WireFound> asked(std::string address) {
    WireFound found;
    found.address = address;
    auto line = co_await open_line(std::move(address), patience);
    if (!line) {
        found.why_not = line.error().answered;
        co_return found;
    }
    ScpiSettings settings;
    settings.name = found.address;
    settings.deadline = patience;
    ScpiSession session{*std::move(line), std::move(settings)};
    const auto identity = co_await session.open();
    if (identity) {
        found.identity = *identity;
    } else {
        found.why_not = identity.error().answered;
    }
    co_return found;
}

}  // namespace

Task<std::vector<WireFound>> wires_found(std::vector<std::string> also) {
    std::vector<WireFound> all;
    for (const std::string& path : paths_in("/dev", "usbtmc")) {
        also.insert(also.begin(), "usbtmc:" + path);
    }
    for (const std::string& address : also) {
        std::string copy = address;
        auto found = co_await asked(std::move(copy));
        all.push_back(std::move(found));
    }
    for (const std::string& path : paths_in("/dev/serial/by-id", "")) {
        const std::string address = "serial:" + path;
        const bool named = std::any_of(also.begin(), also.end(), [&](const std::string& one) {
            return one.starts_with(address);
        });
        if (!named) {
            all.push_back({address, "", "not asked: name it with --at to have it asked"});
        }
    }
    co_return all;
}

}  // namespace afterload::instruments
