/// Progress on a terminal as one line rewritten in place, in a pipe as one plain line a step.
#pragma once

#include "runner/papers/terminal_text.hpp"
#include "runner/progress.hpp"

#include <string>

namespace afterload::runner {

class TerminalProgress final : public Progress {
public:
    /// `terminal` is the one behind standard error.
    explicit TerminalProgress(Terminal terminal);
    void begins(int number, int count, const std::string& step) override;
    void doing(const std::string& what) override;
    void ended(int number, int count, const StepResult& step) override;

private:
    Terminal terminal_;
    bool live_;
    std::string step_;
};

}  // namespace afterload::runner
