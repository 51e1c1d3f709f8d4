#include "runner/interview/questions.hpp"

#include "sequences/utf8.hpp"

#include <fmt/format.h>

#include <istream>
#include <ostream>
#include <string_view>

namespace afterload::runner {
namespace {

constexpr std::size_t longest_answer = 16UL * 1024UL;

bool is_utf8(std::string_view text) {
    while (!text.empty()) {
        const auto next = sequences::decode_utf8(text);
        if (!next.valid) {
            return false;
        }
        text.remove_prefix(next.bytes);
    }
    return true;
}

}  // namespace

std::string words(const sequences::TextMistake& mistake) {
    return mistake.what + (mistake.advice.empty() ? "" : "; " + mistake.advice);
}

std::optional<std::string> Questions::line() {
    std::string line;
    too_long_ = false;
    char letter = '\0';
    bool any = false;
    while (in_.get(letter)) {
        any = true;
        if (letter == '\n') {
            break;
        }
        if (line.size() < longest_answer) {
            line += letter;
        } else {
            too_long_ = true;
        }
    }
    if (!any) {
        return std::nullopt;
    }
    if (line.ends_with('\r')) {
        line.pop_back();
    }
    const std::size_t begin = line.find_first_not_of(" \t");
    if (begin == std::string::npos) {
        return std::string{};
    }
    return line.substr(begin, line.find_last_not_of(" \t") - begin + 1);
}

std::optional<std::string> Questions::ask(
    const std::string& question, const std::string& usual,
    const std::function<std::string(const std::string&)>& fits) {
    const std::string asked = question + (usual.empty() ? std::string{} : " [" + usual + "]") + ":";
    while (true) {
        const std::size_t indent = question.find_first_not_of(' ');
        std::string shown = wrapped(asked, indent, indent, terminal_);
        shown.pop_back();  // the answer stands behind the question
        out_ << shown << " " << std::flush;
        const auto typed = line();
        if (!typed) {
            out_ << "\n";
            return std::nullopt;
        }
        if (too_long_ || !is_utf8(*typed)) {
            say(too_long_ ? fmt::format("longer than {} bytes: shorten it", longest_answer)
                          : "that is not UTF-8 text: write it without accents",
                2);
            continue;
        }
        const std::string answer = typed->empty() ? usual : *typed;
        const std::string why = fits(answer);
        if (why.empty()) {
            return answer;
        }
        say(why, 2);
    }
}

std::optional<std::string> Questions::text(const std::string& question, const std::string& usual) {
    return ask(question, usual, [](const std::string&) { return std::string{}; });
}

void Questions::say(const std::string& words, std::size_t indent) {
    out_ << wrapped(words, indent, indent, terminal_) << std::flush;
}

std::optional<std::string> Questions::quantity(const std::string& question,
                                               const std::string& usual,
                                               sequences::Dimension dimension, double low,
                                               double high) {
    return ask(question, usual, [&](const std::string& answer) {
        const auto value = sequences::read_quantity(answer, dimension, "what is asked for");
        if (!value) {
            return words(value.error());
        }
        return *value >= low && *value <= high
                   ? std::string{}
                   : fmt::format("{} is not what a bench has: {:g} to {:g}", answer, low, high);
    });
}

std::optional<bool> Questions::yes(const std::string& question, bool usual) {
    const auto answer =
        ask(question + " (yes or no)", usual ? "yes" : "no", [](const std::string& typed) {
            return typed == "yes" || typed == "no" || typed == "y" || typed == "n"
                       ? std::string{}
                       : std::string{"write yes or no"};
        });
    return answer ? std::optional{answer->starts_with('y')} : std::nullopt;
}

std::optional<std::size_t> Questions::choice(const std::string& question,
                                             const std::vector<std::string>& choices) {
    for (std::size_t i = 0; i < choices.size(); ++i) {
        out_ << wrapped(fmt::format("{}  {}", i + 1, choices[i]), 2, 5, terminal_);
    }
    const auto number = [&](const std::string& typed) -> std::size_t {
        const auto value = sequences::read_integer(typed, "a number");
        const bool there =
            value && *value >= 1 && static_cast<std::size_t>(*value) <= choices.size();
        return there ? static_cast<std::size_t>(*value) : 0;
    };
    const auto answer = ask(question, "1", [&](const std::string& typed) {
        return number(typed) > 0 ? std::string{}
                                 : fmt::format("write a number from 1 to {}", choices.size());
    });
    return answer ? std::optional{number(*answer) - 1} : std::nullopt;
}

}  // namespace afterload::runner
