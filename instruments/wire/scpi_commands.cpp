#include "instruments/wire/scpi_commands.hpp"

#include "instruments/wire/scpi_text.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cstddef>
#include <utility>

namespace afterload::instruments {

namespace {

constexpr std::size_t most_errors = 20;

/// Parts of `text` between `mark`s that stand outside quotes and parentheses.
std::vector<std::string_view> parts(std::string_view text, char mark) {
    std::vector<std::string_view> found;
    char quote = '\0';
    int depth = 0;
    std::size_t from = 0;
    for (std::size_t i = 0; i < text.size(); ++i) {
        const char letter = text[i];
        if (quote != '\0') {
            quote = letter == quote ? '\0' : quote;
        } else if (letter == '"' || letter == '\'') {
            quote = letter;
        } else if (letter == '(') {
            ++depth;
        } else if (letter == ')') {
            --depth;
        } else if (letter == mark && depth <= 0) {
            found.push_back(text.substr(from, i - from));
            from = i + 1;
        }
    }
    found.push_back(text.substr(from));
    return found;
}

}  // namespace

ScpiDone scpi_reply(std::string text) {
    return {std::move(text), 0, {}};
}

ScpiDone scpi_refusal(int code, std::string text) {
    return {std::nullopt, code, std::move(text)};
}

ScpiCommands::ScpiCommands(std::string identity) : identity_{std::move(identity)} {
    add("SYSTem:ERRor[:NEXT]?", [this](const std::vector<std::string>&) {
        std::string entry = errors_.empty() ? "0,\"No error\"" : errors_.front();
        if (!errors_.empty()) {
            errors_.pop_front();
        }
        return scpi_reply(std::move(entry));
    });
}

void ScpiCommands::add(std::string_view form, Handler handler) {
    Command command;
    command.handler = std::move(handler);
    command.query = form.ends_with('?');
    if (command.query) {
        form.remove_suffix(1);
    }
    bool optional = false;
    Word word;
    const auto end_word = [&] {
        if (!word.longer.empty()) {
            command.words.push_back(std::exchange(word, {}));
        }
    };
    for (const char letter : form) {
        if (letter == '[' || letter == ']') {
            end_word();
            optional = letter == '[';
        } else if (letter == ':') {
            end_word();
        } else {
            word.optional = optional;
            word.longer += capital(letter);
            if (letter == capital(letter)) {
                word.shorter += letter;
            }
        }
    }
    end_word();
    commands_.push_back(std::move(command));
}

void ScpiCommands::fail(int code, std::string text) {
    if (errors_.size() >= most_errors) {
        errors_.back() = "-350,\"Queue overflow\"";
        return;
    }
    errors_.push_back(fmt::format("{},\"{}\"", code, text));
}

const ScpiCommands::Command* ScpiCommands::find(const std::vector<std::string>& words,
                                                bool query) const {
    const auto fits = [&](const Command& command) {
        std::size_t next = 0;
        for (const Word& word : command.words) {
            const bool here =
                next < words.size() && (words[next] == word.shorter || words[next] == word.longer);
            if (here) {
                ++next;
            } else if (!word.optional) {
                return false;
            }
        }
        return next == words.size() && command.query == query;
    };
    const auto found = std::find_if(commands_.begin(), commands_.end(), fits);
    return found == commands_.end() ? nullptr : &*found;
}

ScpiDone ScpiCommands::common(std::string_view header) {
    if (header == "*IDN?") {
        return scpi_reply(identity_);
    }
    if (header == "*OPC?") {
        return scpi_reply("1");
    }
    if (header == "*CLS") {
        errors_.clear();
        return {};
    }
    if (header == "*RST") {
        if (reset_) {
            reset_();
        }
        return {};
    }
    if (header == "*OPC" || header == "*WAI") {
        return {};
    }
    return scpi_refusal(-113, "Undefined header");
}

/// One unit of a line. `path` is where a header without a colon in front begins, and is moved on.
std::optional<std::string> ScpiCommands::unit(std::string_view text,
                                              std::vector<std::string>& path) {
    text = trimmed(text);
    if (text.empty()) {
        return std::nullopt;
    }
    const auto space = std::min(text.find_first_of(" \t"), text.size());
    std::string header = in_capitals(text.substr(0, space));
    ScpiDone done;
    if (header.starts_with('*')) {
        done = common(header);
    } else {
        const bool query = header.ends_with('?');
        if (query) {
            header.pop_back();
        }
        std::vector<std::string> words;
        if (header.starts_with(':')) {
            header.erase(0, 1);
        } else {
            words = path;
        }
        for (const std::string_view word : parts(header, ':')) {
            words.emplace_back(word);
        }
        std::vector<std::string> parameters;
        const std::string_view rest = trimmed(text.substr(space));
        if (!rest.empty()) {
            for (const std::string_view part : parts(rest, ',')) {
                parameters.emplace_back(trimmed(part));
            }
        }
        if (const Command* command = find(words, query)) {
            done = command->handler(parameters);
        } else {
            done = scpi_refusal(-113, "Undefined header");
        }
        words.pop_back();
        path = std::move(words);
    }
    if (done.error != 0) {
        fail(done.error, done.error_text);
    }
    return done.reply;
}

std::optional<std::string> ScpiCommands::carry_out(std::string_view line) {
    std::optional<std::string> answer;
    std::vector<std::string> path;
    for (const std::string_view text : parts(line, ';')) {
        if (auto reply = unit(text, path)) {
            answer = answer ? *answer + ";" + *reply : *std::move(reply);
        }
    }
    return answer;
}

}  // namespace afterload::instruments
