/// What turns an instrument off, and how to know that it is.
#pragma once

#include "instruments/async.hpp"
#include "instruments/wire/line.hpp"

#include <optional>
#include <string>
#include <string_view>

namespace afterload::instruments {

struct SafeCommand {
    std::string instrument;  ///< the shop's name: "generator"
    std::string address;
    std::string off;       ///< "OUTP OFF"
    std::string question;  ///< "OUTP?"; the answer that is zero confirms
};
[[nodiscard]] std::string written(const SafeCommand& command);
[[nodiscard]] std::optional<SafeCommand> safe_command(std::string_view text);

/// Sends the command, asks, and waits for the answer that confirms; what else lies on the line is
/// passed over. Fails with what was answered, or that nothing was, by the deadline.
[[nodiscard]] Task<BenchResult<void>> turn_off(Line& line, SafeCommand command, Seconds deadline);

}  // namespace afterload::instruments
