#include "instruments/guard/guard_message.hpp"

#include <fmt/format.h>

#include <array>
#include <charconv>
#include <utility>

namespace afterload::instruments {
namespace {

using Kind = BenchFailure::Kind;
constexpr std::array kinds{Kind::no_reply, Kind::wrong_reply, Kind::refused, Kind::lost};

/// The word before the next blank, taken off `line`.
std::string_view word(std::string_view& line) {
    const auto end = line.find(' ');
    const std::string_view taken = line.substr(0, end);
    line = end == std::string_view::npos ? std::string_view{} : line.substr(end + 1);
    return taken;
}

template <class Number>
std::optional<Number> number(std::string_view text) {
    Number value{};
    const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
    return error == std::errc{} && end == text.data() + text.size() ? std::optional{value}
                                                                    : std::nullopt;
}

}  // namespace

std::string in_one_line(std::string_view text) {
    std::string line;
    for (const char letter : text) {
        const auto code = static_cast<unsigned char>(letter);
        const bool plain = code >= 0x20 && code != 0x7f && letter != '%';
        line += plain ? std::string(1, letter) : fmt::format("%{:02X}", code);
    }
    return line;
}

std::string out_of_one_line(std::string_view line) {
    std::string text;
    for (std::size_t i = 0; i < line.size(); ++i) {
        unsigned code = 0;
        const char* const digits = line.data() + i + 1;
        const bool coded = line[i] == '%' && i + 2 < line.size() &&
                           std::from_chars(digits, digits + 2, code, 16).ptr == digits + 2;
        text += coded ? static_cast<char>(code) : line[i];
        i += coded ? 2 : 0;
    }
    return text;
}

std::string written(const GuardRequest& request) {
    return fmt::format("{} {} {} {} {}\n", request.id, request.verb, request.line,
                       request.deadline.in<Seconds>(), in_one_line(request.text));
}

std::optional<GuardRequest> guard_request(std::string_view line) {
    GuardRequest request;
    const auto id = number<std::uint64_t>(word(line));
    request.verb = word(line);
    const auto instrument = number<int>(word(line));
    const auto deadline = number<double>(word(line));
    if (!id || !instrument || !deadline || request.verb.empty()) {
        return std::nullopt;
    }
    request.id = *id;
    request.line = *instrument;
    request.deadline = Seconds{*deadline};
    request.text = out_of_one_line(line);
    return request;
}

std::string written(const GuardReply& reply) {
    if (reply.result) {
        return fmt::format("{} ok {}\n", reply.id, in_one_line(*reply.result));
    }
    const BenchFailure& failure = reply.result.error();
    return fmt::format("{} fail {} {} {}\n", reply.id, name(failure.kind),
                       failure.after.in<Seconds>(), in_one_line(failure.answered));
}

std::optional<GuardReply> guard_reply(std::string_view line) {
    const auto id = number<std::uint64_t>(word(line));
    const std::string_view outcome = word(line);
    if (!id || (outcome != "ok" && outcome != "fail")) {
        return std::nullopt;
    }
    if (outcome == "ok") {
        return GuardReply{*id, out_of_one_line(line)};
    }
    const std::string_view kind_name = word(line);
    BenchFailure failure;
    failure.kind = Kind::lost;
    for (const Kind kind : kinds) {
        if (name(kind) == kind_name) {
            failure.kind = kind;
        }
    }
    failure.after = Seconds{number<double>(word(line)).value_or(0.0)};
    failure.answered = out_of_one_line(line);
    return GuardReply{*id, tl::unexpected(std::move(failure))};
}

}  // namespace afterload::instruments
