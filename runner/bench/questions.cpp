#include "runner/bench/questions.hpp"

#include <fmt/format.h>

#include <istream>
#include <ostream>

namespace afterload::runner {

std::optional<std::string> Questions::ask(
    const std::string& question, const std::string& usual,
    const std::function<std::string(const std::string&)>& fits) {
    while (true) {
        out_ << question << (usual.empty() ? std::string{} : " [" + usual + "]") << ": "
             << std::flush;
        std::string line;
        if (!std::getline(in_, line)) {
            out_ << "\n";
            return std::nullopt;
        }
        const std::string answer = line.empty() ? usual : line;
        const std::string why = fits(answer);
        if (why.empty()) {
            return answer;
        }
        out_ << "  " << why << "\n";
    }
}

std::optional<std::string> Questions::quantity(const std::string& question,
                                               const std::string& usual,
                                               sequences::Dimension dimension, double low,
                                               double high) {
    return ask(question, usual, [&](const std::string& answer) {
        const auto value = sequences::read_quantity(answer, dimension, "what is asked for");
        if (!value) {
            return value.error().what +
                   (value.error().advice.empty() ? "" : "; " + value.error().advice);
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
        out_ << fmt::format("  {}  {}\n", i + 1, choices[i]);
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
