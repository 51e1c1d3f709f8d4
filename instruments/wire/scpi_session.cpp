#include "instruments/wire/scpi_session.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <utility>

namespace afterload::instruments {

namespace {

constexpr int most_errors = 20;  // read from a queue
constexpr const char* next_error = "SYST:ERR?";

bool printable(const std::string& text) {
    return std::all_of(text.begin(), text.end(), [](char letter) {
        const auto code = static_cast<unsigned char>(letter);
        return (code >= 0x20 && code < 0x7f) || letter == '\t';
    });
}

}  // namespace

BenchFailure ScpiSession::failure(BenchFailure::Kind kind, std::string asked,
                                  std::string answered) const {
    return named({kind, "", "", std::move(answered), Seconds{0.0}}, std::move(asked));
}

BenchFailure ScpiSession::named(BenchFailure failure, std::string asked) const {
    failure.instrument = settings_.name + " (" + line_->address() + ")";
    failure.asked = std::move(asked);
    return failure;
}

Task<BenchResult<void>> ScpiSession::send(std::string text) {
    const std::string asked = "“" + text + "”";
    auto sent = co_await line_->write(std::move(text), settings_.deadline);
    if (!sent) {
        in_step_ = false;
        co_return tl::unexpected<BenchFailure>(named(std::move(sent.error()), asked));
    }
    co_return sent;
}

Task<BenchResult<std::string>> ScpiSession::ask(std::string text) {
    const std::string asked = "“" + text + "”";
    // What lies there now answers nothing that was asked: a reply that came late, or a peer that
    // talks by itself. Taken for the next answer it would be a wrong number.
    const std::string before = co_await line_->unasked();
    if (!before.empty()) {
        in_step_ = false;
        co_return tl::unexpected<BenchFailure>(
            failure(BenchFailure::Kind::wrong_reply, asked,
                    fmt::format("“{}” was there before it was asked", shown(before))));
    }
    auto sent = co_await send(std::move(text));
    if (!sent) {
        co_return tl::unexpected<BenchFailure>(std::move(sent.error()));
    }
    auto reply = co_await line_->read(settings_.deadline);
    if (!reply) {
        in_step_ = false;
        co_return tl::unexpected<BenchFailure>(named(std::move(reply.error()), asked));
    }
    if (!printable(*reply)) {
        in_step_ = false;
        co_return tl::unexpected<BenchFailure>(
            failure(BenchFailure::Kind::wrong_reply, asked, "garbled: “" + shown(*reply) + "”"));
    }
    co_return reply;
}

/// After a failure it is not known which answer belongs to which question. Waits for silence, then
/// goes on only when the instrument answers to its name.
Task<BenchResult<void>> ScpiSession::agree() {
    if (in_step_) {
        co_return BenchResult<void>{};
    }
    constexpr Seconds silence{0.2};
    constexpr int most_lines = 100;
    bool silent = false;
    for (int line = 0; line < most_lines && !silent; ++line) {
        const auto more = co_await line_->read(silence);
        if (!more && more.error().kind == BenchFailure::Kind::lost) {
            co_return tl::unexpected<BenchFailure>(named(more.error(), "go on"));
        }
        silent = !more;
    }
    (void)co_await line_->unasked();
    if (!silent) {
        co_return tl::unexpected<BenchFailure>(
            failure(BenchFailure::Kind::wrong_reply, "go on", "it does not stop talking"));
    }
    std::string question = "*IDN?";
    const auto answer = co_await ask(std::move(question));
    if (!answer) {
        co_return tl::unexpected<BenchFailure>(answer.error());
    }
    if (!identity_.empty() && *answer != identity_) {
        co_return tl::unexpected<BenchFailure>(
            failure(BenchFailure::Kind::wrong_reply, "go on",
                    fmt::format("it answers “{}” to *IDN?", shown(*answer))));
    }
    in_step_ = true;
    co_return BenchResult<void>{};
}

Task<BenchResult<void>> ScpiSession::errors_after(std::string text) {
    if (!settings_.error_queue) {
        co_return BenchResult<void>{};
    }
    std::optional<ScpiError> first;
    for (int i = 0; i < most_errors; ++i) {
        std::string question = next_error;
        const auto reply = co_await ask(std::move(question));
        if (!reply) {
            co_return tl::unexpected<BenchFailure>(reply.error());
        }
        const auto entry = scpi_error(*reply);
        if (!entry) {
            in_step_ = false;
            co_return tl::unexpected<BenchFailure>(
                failure(BenchFailure::Kind::wrong_reply, std::string{"“"} + next_error + "”",
                        fmt::format("“{}” is no entry of an error queue", shown(*reply))));
        }
        if (entry->code == 0) {
            break;
        }
        if (!first) {
            first = entry;
        }
    }
    if (first) {
        co_return tl::unexpected<BenchFailure>(
            failure(BenchFailure::Kind::refused, "“" + text + "”",
                    fmt::format("error {}: {}", first->code, shown(first->text))));
    }
    co_return BenchResult<void>{};
}

Task<BenchResult<std::string>> ScpiSession::open() {
    identity_.clear();
    (void)co_await line_->unasked();
    std::string clear = "*CLS";
    const auto cleared = co_await send(std::move(clear));
    if (!cleared) {
        co_return tl::unexpected<BenchFailure>(cleared.error());
    }
    std::string question = "*IDN?";
    auto answer = co_await ask(std::move(question));
    if (!answer) {
        co_return answer;
    }
    if (!scpi_identity(*answer)) {
        co_return tl::unexpected<BenchFailure>(
            failure(BenchFailure::Kind::wrong_reply, "“*IDN?”",
                    fmt::format("“{}” is no identity", shown(*answer))));
    }
    if (!answer->starts_with(settings_.identity)) {
        co_return tl::unexpected<BenchFailure>(
            failure(BenchFailure::Kind::wrong_reply, "“*IDN?”",
                    fmt::format("it is “{}”; the bench file says “{}”", shown(*answer),
                                settings_.identity)));
    }
    identity_ = *answer;
    in_step_ = true;
    co_return answer;
}

Task<BenchResult<void>> ScpiSession::command(std::string text) {
    auto agreed = co_await agree();
    if (!agreed) {
        co_return agreed;
    }
    auto sent = co_await send(text);
    if (!sent) {
        co_return sent;
    }
    auto done = co_await errors_after(std::move(text));
    co_return done;
}

Task<BenchResult<std::string>> ScpiSession::query(std::string text) {
    const auto agreed = co_await agree();
    if (!agreed) {
        co_return tl::unexpected<BenchFailure>(agreed.error());
    }
    auto reply = co_await ask(text);
    if (!reply && reply.error().kind == BenchFailure::Kind::no_reply && settings_.error_queue) {
        // A question that an instrument does not understand it leaves unanswered and queues.
        std::string question = next_error;
        const auto why = co_await ask(std::move(question));
        const auto entry = why ? scpi_error(*why) : std::nullopt;
        if (entry && entry->code != 0) {
            co_return tl::unexpected<BenchFailure>(
                failure(BenchFailure::Kind::refused, "“" + text + "”",
                        fmt::format("error {}: {}", entry->code, shown(entry->text))));
        }
    }
    if (!reply) {
        co_return reply;
    }
    const auto done = co_await errors_after(std::move(text));
    if (!done) {
        co_return tl::unexpected<BenchFailure>(done.error());
    }
    co_return reply;
}

Task<BenchResult<double>> ScpiSession::number(std::string text) {
    const std::string asked = "“" + text + "”";
    const auto reply = co_await query(std::move(text));
    if (!reply) {
        co_return tl::unexpected<BenchFailure>(reply.error());
    }
    const auto number = scpi_number(*reply);
    if (!number) {
        co_return tl::unexpected<BenchFailure>(
            failure(BenchFailure::Kind::wrong_reply, asked,
                    fmt::format("“{}” is no number", shown(*reply))));
    }
    if (!number->reading) {
        co_return tl::unexpected<BenchFailure>(failure(
            BenchFailure::Kind::no_reply, asked, "no reading: overload, or nothing is connected"));
    }
    co_return *number->reading;
}

}  // namespace afterload::instruments
