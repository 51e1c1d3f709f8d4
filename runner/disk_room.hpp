/// Room on the disk for what a run leaves.
#pragma once

#include <tl/expected.hpp>

#include <cstdint>
#include <optional>
#include <string>

namespace afterload::runner {

/// Bytes that this user may still write to the disk of `folder`; nothing where it cannot be told.
[[nodiscard]] std::optional<std::uint64_t> free_bytes(const std::string& folder);

/// Is there room for a run to begin: 256 MiB, the records of an hour of stereo at 48 kHz? Where it
/// cannot be told there is. Fails in one line that says what is there and what is needed.
[[nodiscard]] tl::expected<void, std::string> room_to_begin(const std::string& folder);

/// Is there room to go on: 32 MiB, enough for the report and the last words of a run?
[[nodiscard]] tl::expected<void, std::string> room_to_go_on(const std::string& folder);

}  // namespace afterload::runner
