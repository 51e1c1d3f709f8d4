#include "runner/daemon/remote_operator.hpp"

#include "runner/papers/prompt_text.hpp"
#include "runner/papers/time_text.hpp"

#include <fmt/format.h>

#include <chrono>
#include <utility>

namespace afterload::runner {
namespace {

std::string_view name(Answer answer) {
    switch (answer) {
        case Answer::done:
            return "done";
        case Answer::skip:
            return "skip";
        case Answer::stop:
            return "stop";
    }
    return "stop";
}

}  // namespace

Json pending_prompt_json(const PendingPrompt& prompt) {
    Json document;
    document["prompt"] = prompt.number;
    document["typed"] = prompt.typed;
    for (const auto& [key, value] : prompt.shown.items()) {
        document[key] = value;
    }
    return document;
}

std::optional<PromptAnswer> RemoteOperator::wait(Json shown, bool typed) {
    std::unique_lock lock{mutex_};
    pending_ = PendingPrompt{++last_, std::move(shown), typed};
    given_.reset();
    events_.tell("prompt", pending_prompt_json(*pending_));
    while (!given_ && !stop_.load()) {
        answered_.wait_for(lock, std::chrono::milliseconds{100});
    }
    const std::uint64_t number = pending_->number;
    pending_.reset();
    Json told{{"prompt", number}, {"answer", given_ ? name(given_->answer) : "stop"}};
    if (typed && given_) {
        told["text"] = given_->text;
    }
    events_.tell("answered", std::move(told));
    return std::exchange(given_, std::nullopt);
}

Answer RemoteOperator::ask(const sequences::Prompt& prompt, int number, int count) {
    Json shown;
    shown["title"] = prompt.title;
    shown["number"] = number;
    shown["count"] = count;
    shown["text"] = prompt_text(prompt, number, count);
    const auto given = wait(std::move(shown), false);
    return given ? given->answer : Answer::stop;
}

std::string RemoteOperator::type_in(const std::string& what) {
    const auto given = wait(Json{{"title", what}, {"text", what + " (empty: not read)"}}, true);
    return given && given->answer == Answer::done ? given->text : std::string{};
}

std::optional<SoakYes> RemoteOperator::consent(const SoakQuestion& question) {
    const std::string title = "leaving the unit on load for " + duration_words(question.duration);
    return typed_consent(question, [&](const std::string& text) {
        const auto given = wait(Json{{"title", title}, {"text", text}}, true);
        return given && given->answer == Answer::done ? std::optional{given->text} : std::nullopt;
    });
}

std::vector<std::string> RemoteOperator::notes() const {
    const std::lock_guard lock{mutex_};
    return notes_;
}

std::optional<PendingPrompt> RemoteOperator::pending() const {
    const std::lock_guard lock{mutex_};
    return pending_;
}

tl::expected<void, std::string> RemoteOperator::answer(PromptAnswer answer) {
    const std::lock_guard lock{mutex_};
    if (!pending_ || given_) {
        return tl::unexpected(std::string{"no prompt waits for an answer"});
    }
    if (pending_->number != answer.number) {
        return tl::unexpected(fmt::format("prompt {} does not wait any more; prompt {} does",
                                          answer.number, pending_->number));
    }
    given_ = std::move(answer);
    answered_.notify_all();
    return {};
}

void RemoteOperator::add_note(std::string note) {
    const std::lock_guard lock{mutex_};
    notes_.push_back(std::move(note));
}

std::uint64_t RemoteOperator::last() const {
    const std::lock_guard lock{mutex_};
    return last_;
}

}  // namespace afterload::runner
