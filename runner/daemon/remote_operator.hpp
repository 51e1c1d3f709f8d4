/// The person at the bench, who answers from any terminal: the run's thread waits here, whoever
/// serves the clients hands the answer in.
#pragma once

#include "runner/daemon/event_log.hpp"
#include "runner/operator.hpp"

#include <tl/expected.hpp>

#include <atomic>
#include <condition_variable>
#include <cstdint>
#include <mutex>
#include <optional>
#include <string>
#include <vector>

namespace afterload::runner {

/// A question that waits for its answer.
struct PendingPrompt {
    std::uint64_t number = 0;  ///< of all prompts of this bench; an answer names it
    Json shown;                ///< title, controls, checks, cautions; or what is to be typed in
    bool typed = false;        ///< a reading is due, not a key
};
[[nodiscard]] Json pending_prompt_json(const PendingPrompt& prompt);

/// What a person answered.
struct PromptAnswer {
    std::uint64_t number = 0;
    Answer answer = Answer::done;
    std::string text;  ///< the reading, where one is due
};

class RemoteOperator final : public Operator {
public:
    /// `first` is the number of the first prompt; `stop` ends every wait as Answer::stop.
    RemoteOperator(EventLog& events, std::uint64_t first, const std::atomic<bool>& stop)
        : events_{events}, stop_{stop}, last_{first} {}

    // Called by the run.
    [[nodiscard]] Answer ask(const sequences::Prompt& prompt, int number, int count) override;
    [[nodiscard]] std::string type_in(const std::string& what) override;
    [[nodiscard]] std::optional<SoakYes> consent(const SoakQuestion& question) override;
    [[nodiscard]] std::vector<std::string> notes() const override;

    // Called for clients.
    [[nodiscard]] std::optional<PendingPrompt> pending() const;
    /// Fails, in one line, when no prompt waits or another than the one that is named.
    [[nodiscard]] tl::expected<void, std::string> answer(PromptAnswer answer);
    void add_note(std::string note);
    [[nodiscard]] std::uint64_t last() const;

private:
    [[nodiscard]] std::optional<PromptAnswer> wait(Json shown, bool typed);

    EventLog& events_;
    const std::atomic<bool>& stop_;
    mutable std::mutex mutex_;
    std::condition_variable answered_;
    std::uint64_t last_;
    std::optional<PendingPrompt> pending_;
    std::optional<PromptAnswer> given_;
    std::vector<std::string> notes_;
};

}  // namespace afterload::runner
