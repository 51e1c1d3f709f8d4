/// The person at the bench: asked by a prompt, answers with one key.
#pragma once

#include "sequences/sequence.hpp"

#include <functional>
#include <iosfwd>
#include <optional>
#include <string>
#include <vector>

namespace afterload::runner {

enum class Answer { done, skip, stop };

/// What a person is asked before a unit is left alone on load.
struct SoakQuestion {
    Seconds duration;                   ///< of all soaks of the run
    std::string level;                  ///< "1/8 rated"
    std::string unit;                   ///< maker, model and serial
    std::vector<std::string> cautions;  ///< whole texts
    bool must_stay = false;  ///< the bench cannot guard it by itself: somebody has to stay
    std::string why;         ///< because of this; one line
};

/// An explicit yes.
struct SoakYes {
    bool stays = false;     ///< the person stays with it
    std::string reachable;  ///< or can be reached: name and number
};

/// What a person typed to a question; nothing where no answer can come any more.
using TypedIn = std::function<std::optional<std::string>(const std::string& question)>;

/// Asks `question` by typing: who stays or can be reached, then "yes" and the duration; nothing
/// else is taken for a yes.
[[nodiscard]] std::optional<SoakYes> typed_consent(const SoakQuestion& question,
                                                   const TypedIn& typed_in);

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
    /// May the unit be left on load for so long? Nothing: no.
    [[nodiscard]] virtual std::optional<SoakYes> consent(const SoakQuestion& question);
    /// What the person wrote with `n` since the run began, in order.
    [[nodiscard]] virtual std::vector<std::string> notes() const { return {}; }
};

/// Answers every prompt with done; only where everything that drives is simulated.
class AssumedOperator final : public Operator {
public:
    [[nodiscard]] Answer ask(const sequences::Prompt& prompt, int number, int count) override;
    [[nodiscard]] std::string type_in(const std::string& what) override;
    [[nodiscard]] std::optional<SoakYes> consent(const SoakQuestion& question) override;
};

/// A person at a terminal. Prompts go to `out`, answers come from `in`: Enter done, s skip, n note,
/// q stop. The end of `in` is stop.
class TerminalOperator final : public Operator {
public:
    TerminalOperator(std::istream& in, std::ostream& out) : in_{in}, out_{out} {}
    [[nodiscard]] Answer ask(const sequences::Prompt& prompt, int number, int count) override;
    [[nodiscard]] std::string type_in(const std::string& what) override;
    [[nodiscard]] std::optional<SoakYes> consent(const SoakQuestion& question) override;
    [[nodiscard]] std::vector<std::string> notes() const override { return notes_; }

private:
    std::istream& in_;
    std::ostream& out_;
    std::vector<std::string> notes_;
};

}  // namespace afterload::runner
