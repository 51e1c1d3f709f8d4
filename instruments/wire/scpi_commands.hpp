/// The instrument's side of SCPI: a tree of commands in their long and short forms, chained with
/// semicolons, and a queue of errors.
///
/// Source  SCPI-99, volume 1: 6.2 (headers, long and short form, optional nodes), 21.8 (error
///         queue); IEEE Std 488.2-1992, 10 (common commands), 7.6 (compound headers).
#pragma once

#include <deque>
#include <functional>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace afterload::instruments {

/// What a command did: the reply of a query, nothing for a command, or an error for the queue.
struct ScpiDone {
    std::optional<std::string> reply;
    int error = 0;  ///< 0: none
    std::string error_text;
};
[[nodiscard]] ScpiDone scpi_reply(std::string text);
/// -222, "Data out of range" and the like (SCPI-99, volume 2, 21.8.9).
[[nodiscard]] ScpiDone scpi_refusal(int code, std::string text);

class ScpiCommands {
public:
    using Handler = std::function<ScpiDone(const std::vector<std::string>& parameters)>;

    /// `identity`: four fields with commas between.
    explicit ScpiCommands(std::string identity);
    ScpiCommands(const ScpiCommands&) = delete;
    ScpiCommands& operator=(const ScpiCommands&) = delete;

    /// Adds a command, written as manuals do: capitals are the short form, brackets may be left
    /// out: "[SOURce:]VOLTage[:LEVel]", "MEASure:VOLTage:DC?".
    void add(std::string_view form, Handler handler);
    /// What *RST does beside emptying the error queue.
    void on_reset(std::function<void()> reset) { reset_ = std::move(reset); }

    /// Carries out one line, and gives what it answers: the replies of its queries joined by
    /// semicolons; nothing where it asks nothing. Errors go into the queue.
    [[nodiscard]] std::optional<std::string> carry_out(std::string_view line);

private:
    struct Word {
        std::string shorter;
        std::string longer;
        bool optional = false;
    };
    struct Command {
        std::vector<Word> words;
        bool query = false;
        Handler handler;
    };
    void fail(int code, std::string text);
    [[nodiscard]] ScpiDone common(std::string_view header);
    [[nodiscard]] const Command* find(const std::vector<std::string>& words, bool query) const;
    [[nodiscard]] std::optional<std::string> unit(std::string_view text,
                                                  std::vector<std::string>& path);

    std::string identity_;
    std::vector<Command> commands_;
    std::function<void()> reset_;
    std::deque<std::string> errors_;
};

}  // namespace afterload::instruments
