/// What the program and its guardian say to each other: lines of text over a socket between the
/// two.
///
///     7 write 2 0.5 VOLT 1       request 7: send this to instrument 2 within 0.5 s
///     7 ok                       what came of it
///     8 fail lost it closed the connection
///     0 beat                     a sign of life; 0 is never answered
///     0 driving 1
#pragma once

#include "instruments/failure.hpp"

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

namespace afterload::instruments {

/// `text` in one line of printable characters: what is none becomes %0A.
[[nodiscard]] std::string in_one_line(std::string_view text);
/// The reverse; a percent sign that begins no code stays.
[[nodiscard]] std::string out_of_one_line(std::string_view line);

struct GuardRequest {
    std::uint64_t id = 0;
    std::string verb;  ///< open, write, read, unasked, lock, keep_safe, refresh, let_go, lease,
                       ///< beat, driving, bye
    int line = 0;      ///< the program's own number of the instrument
    Seconds deadline;
    std::string text;
};
[[nodiscard]] std::string written(const GuardRequest& request);
[[nodiscard]] std::optional<GuardRequest> guard_request(std::string_view line);

struct GuardReply {
    std::uint64_t id = 0;
    BenchResult<std::string> result;
};
[[nodiscard]] std::string written(const GuardReply& reply);
[[nodiscard]] std::optional<GuardReply> guard_reply(std::string_view line);

}  // namespace afterload::instruments
