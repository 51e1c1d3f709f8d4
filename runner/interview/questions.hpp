/// Questions in plain words, each with an answer that Enter takes. What is asked and said goes to
/// `out`, made fit for the terminal; nothing in an answer can move its cursor.
#pragma once

#include "runner/papers/terminal_text.hpp"
#include "sequences/quantity_text.hpp"

#include <functional>
#include <iosfwd>
#include <optional>
#include <string>
#include <vector>

namespace afterload::runner {

class Questions {
public:
    Questions(std::istream& in, std::ostream& out, const Terminal& terminal = {})
        : in_{in}, out_{out}, terminal_{terminal} {}

    /// Asks until `fits` takes the answer (it says why not, or nothing). Empty: no answer can come
    /// any more. An answer that is not UTF-8, or longer than 16 KiB, is asked for again.
    [[nodiscard]] std::optional<std::string> ask(
        const std::string& question, const std::string& usual,
        const std::function<std::string(const std::string&)>& fits);

    /// Any text; empty where it is skipped.
    [[nodiscard]] std::optional<std::string> text(const std::string& question,
                                                  const std::string& usual = {});
    /// A quantity with its unit, between `low` and `high` in SI units; as it was written.
    [[nodiscard]] std::optional<std::string> quantity(const std::string& question,
                                                      const std::string& usual,
                                                      sequences::Dimension dimension, double low,
                                                      double high);
    [[nodiscard]] std::optional<bool> yes(const std::string& question, bool usual);
    /// One of `choices`, by its number from 1.
    [[nodiscard]] std::optional<std::size_t> choice(const std::string& question,
                                                    const std::vector<std::string>& choices);

    /// Says something in lines of the terminal's width, indented by `indent`.
    void say(const std::string& words, std::size_t indent = 0);

private:
    /// A line; empty: no more come.
    std::optional<std::string> line();

    std::istream& in_;
    std::ostream& out_;
    Terminal terminal_;
    bool too_long_ = false;
};

/// A mistake and what to write, in one line.
[[nodiscard]] std::string words(const sequences::TextMistake& mistake);

}  // namespace afterload::runner
