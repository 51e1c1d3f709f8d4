#include "runner/hints/hint_text.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace afterload::runner {

namespace {

using sequences::HintAbout;

constexpr std::size_t on_a_sheet = 3;
constexpr std::size_t number_width = 5;
constexpr std::size_t word_width = 13;

/// "  usually    TEXT", hanging.
std::string told(std::string_view word, std::string_view text, std::size_t indent,
                 const Terminal& terminal) {
    const std::size_t column = indent + word_width;
    const std::string lines =
        wrapped(cut(text, longest_hint_text, terminal), column, column, terminal);
    if (word.empty()) {
        return lines;
    }
    TextLine start{terminal};
    start.to(indent).put(word, Emphasis::faint);
    std::string head = start.text();
    head.pop_back();
    head += std::string(column - std::min(start.width(), column), ' ');
    return head + lines.substr(std::min(column, lines.size()));
}

std::string numbered(std::size_t number, const Hint& hint, const Terminal& terminal) {
    return wrapped(fmt::format("{}  {}", number, cut(hint_line(hint), longest_hint_text, terminal)),
                   2, number_width, terminal);
}

std::string all_of(const Hint& hint, bool with_evidence, const Terminal& terminal) {
    std::string out = told("usually", hint.usually, number_width, terminal);
    if (with_evidence) {
        for (const std::string& line : hint.evidence) {
            out += told("for", line, number_width, terminal);
        }
        for (const std::string& line : hint.counter_evidence) {
            out += told("against", line, number_width, terminal);
        }
    }
    out += told("this tells", hint.separates, number_width, terminal);
    for (const std::string& caution : hint.cautions) {
        out += told("caution", caution, number_width, terminal);
    }
    return out;
}

}  // namespace

std::string hint_line(const Hint& hint) {
    std::string whose;
    if (hint.about != HintAbout::unit) {
        whose = fmt::format("{}: ", name(hint.about));
    }
    if (!hint.where.empty()) {
        whose += fmt::format("{}: ", hint.where);
    }
    return fmt::format("{}{} ({})", whose, hint.look, name(hint.confidence));
}

std::string look_first(const Hints& hints, std::string_view run_path, const Terminal& terminal) {
    if (hints.hints.empty()) {
        return {};
    }
    TextLine head{terminal};
    head.put("Look first", Emphasis::bold);
    std::string out = head.text();
    const std::size_t shown = std::min(hints.hints.size(), on_a_sheet);
    for (std::size_t i = 0; i < shown; ++i) {
        const Hint& hint = hints.hints[i];
        out += numbered(i + 1, hint, terminal);
        if (i == 0) {
            out += all_of(hint, false, terminal);
        }
    }
    if (!run_path.empty()) {
        out +=
            wrapped(fmt::format("What speaks for and against: afterload show {} hints", run_path),
                    2, 4, terminal, Emphasis::faint);
    }
    return out;
}

std::string hints_text(const Hints& hints, const Terminal& terminal) {
    if (hints.hints.empty() && hints.set_aside.empty()) {
        return wrapped("No pattern that a rule knows.", 0, 0, terminal);
    }
    std::string out;
    for (std::size_t i = 0; i < hints.hints.size(); ++i) {
        const Hint& hint = hints.hints[i];
        out += numbered(i + 1, hint, terminal);
        out += all_of(hint, true, terminal);
        for (const std::string& figure : hint.figures) {
            out += told(&figure == &hint.figures.front() ? "behind" : "", figure, number_width,
                        terminal);
        }
    }
    if (!hints.set_aside.empty()) {
        out += wrapped("Set aside: what comes before would do the same. Measure again first.", 0, 2,
                       terminal);
        for (const Hint& hint : hints.set_aside) {
            out += wrapped(cut(hint_line(hint), longest_hint_text, terminal), 2, 4, terminal,
                           Emphasis::faint);
        }
    }
    return out;
}

std::string hints_of_figure(const Hints& hints, std::string_view figure_id,
                            const Terminal& terminal) {
    std::string out;
    std::size_t number = 0;
    for (const Hint& hint : hints.hints) {
        if (std::find(hint.figures.begin(), hint.figures.end(), figure_id) == hint.figures.end()) {
            continue;
        }
        if (out.empty()) {
            TextLine head{terminal};
            head.put("look first", Emphasis::bold);
            out += "\n" + head.text();
        }
        out += numbered(++number, hint, terminal);
        out += all_of(hint, true, terminal);
    }
    return out;
}

}  // namespace afterload::runner
