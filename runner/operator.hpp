/// The person at the bench: asked by a prompt, answers with one key.
#pragma once

#include "sequences/sequence.hpp"

#include <iosfwd>
#include <string>
#include <vector>

namespace afterload::runner {

enum class Answer { done, skip, stop };

class Operator {
public:
    Operator() = default;
    Operator(const Operator&) = delete;
    Operator& operator=(const Operator&) = delete;
    virtual ~Operator() = default;

    /// Shows `prompt` (its cautions with it) and waits. `number` of `count` prompts.
    [[nodiscard]] virtual Answer ask(const sequences::Prompt& prompt, int number, int count) = 0;
    /// Asks for a reading that no meter gives: "DC offset, left, in V". Empty: not answered.
    [[nodiscard]] virtual std::string type_in(const std::string& what) = 0;
    /// What the person wrote with `n` since the run began, in order.
    [[nodiscard]] virtual std::vector<std::string> notes() const { return {}; }
};

/// Answers every prompt with done; only where everything that drives is simulated.
class AssumedOperator final : public Operator {
public:
    [[nodiscard]] Answer ask(const sequences::Prompt& prompt, int number, int count) override;
    [[nodiscard]] std::string type_in(const std::string& what) override;
};

/// A person at a terminal. Prompts go to `out`, answers come from `in`: Enter done, s skip, n note,
/// q stop. The end of `in` is stop.
class TerminalOperator final : public Operator {
public:
    TerminalOperator(std::istream& in, std::ostream& out) : in_{in}, out_{out} {}
    [[nodiscard]] Answer ask(const sequences::Prompt& prompt, int number, int count) override;
    [[nodiscard]] std::string type_in(const std::string& what) override;
    [[nodiscard]] std::vector<std::string> notes() const override { return notes_; }

private:
    std::istream& in_;
    std::ostream& out_;
    std::vector<std::string> notes_;
};

}  // namespace afterload::runner
