#include "instruments/guard/make_safe_list.hpp"

#include "instruments/monotonic.hpp"
#include "instruments/wire/scpi_reply.hpp"

#include <array>
#include <utility>

namespace afterload::instruments {

std::string written(const SafeCommand& command) {
    return command.instrument + '\t' + command.address + '\t' + command.off + '\t' +
           command.question;
}

std::optional<SafeCommand> safe_command(std::string_view text) {
    std::array<std::string, 4> fields;
    std::size_t field = 0;
    for (const char letter : text) {
        if (letter != '\t') {
            fields.at(field) += letter;
        } else if (++field == fields.size()) {
            return std::nullopt;
        }
    }
    auto& [instrument, address, off, question] = fields;
    if (field + 1 != fields.size() || address.empty() || off.empty() || question.empty()) {
        return std::nullopt;
    }
    return SafeCommand{std::move(instrument), std::move(address), std::move(off),
                       std::move(question)};
}

Task<BenchResult<void>> turn_off(Line& line, SafeCommand command, Seconds deadline) {
    const Seconds begun = monotonic_now();
    const auto left = [&] { return deadline - (monotonic_now() - begun); };
    std::string off = command.off;
    auto sent = co_await line.write(std::move(off), deadline);
    if (!sent) {
        co_return sent;
    }
    (void)co_await line.unasked();
    std::string question = command.question;
    sent = co_await line.write(std::move(question), left());
    if (!sent) {
        co_return sent;
    }
    std::string last = "nothing";
    while (left() > Seconds{0.0}) {
        const auto answer = co_await line.read(left());
        if (!answer) {
            if (answer.error().kind == BenchFailure::Kind::lost) {
                co_return tl::unexpected<BenchFailure>(answer.error());
            }
            break;
        }
        const auto number = scpi_number(*answer);
        if (number && number->reading && *number->reading == 0.0) {
            co_return BenchResult<void>{};
        }
        last = "“" + shown(*answer) + "”";
    }
    co_return tl::unexpected<BenchFailure>(
        BenchFailure{BenchFailure::Kind::wrong_reply, command.instrument, command.question,
                     last + " came, and no answer that it is off", monotonic_now() - begun});
}

}  // namespace afterload::instruments
