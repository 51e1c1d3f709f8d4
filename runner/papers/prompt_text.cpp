#include "runner/papers/prompt_text.hpp"

#include "runner/papers/time_text.hpp"
#include "sequences/sequence_reader.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <vector>

namespace afterload::runner {

namespace {

struct Key {
    std::string_view key;
    std::string_view what;
};

std::string keys_text(const Terminal& terminal) {
    static constexpr Key keys[]{{"Enter", "done"},
                                {"s", "skip the step that needs it"},
                                {"n", "note"},
                                {"q", "stop the run, safely"}};
    std::string out;
    TextLine line{terminal};
    line.to(2);
    for (const auto& [key, what] : keys) {
        const std::size_t length = key.size() + 1 + what.size();
        if (line.width() + 3 + length > terminal.width && line.width() > 2) {
            out += line.text();
            line = TextLine{terminal};
            line.to(2);
        }
        if (line.width() > 2) {
            line.to(line.width() + 3);
        }
        line.put(key, Emphasis::act).put(" ").put(what);
    }
    return out + line.text();
}

std::string heading(const sequences::Prompt& prompt, int number, int count,
                    const Terminal& terminal) {
    const std::string who =
        count > 0 ? fmt::format("Your hands, {} of {}", number, count) : std::string{"Your hands"};
    const std::string_view state = prompt.listens ? "the tone keeps playing while you listen"
                                                  : "the output is muted until you answer";
    TextLine line{terminal};
    line.put(who, Emphasis::act);
    if (line.width() + 3 + state.size() <= terminal.width) {
        return line.to(line.width() + 3).put(state).text();
    }
    return line.text() + wrapped(state, 2, 2, terminal);
}

}  // namespace

std::string prompt_text(const sequences::Prompt& prompt, int number, int count,
                        const Terminal& terminal) {
    std::string out = "\n" + heading(prompt, number, count, terminal);
    if (!prompt.title.empty()) {
        out += wrapped(prompt.title, 2, 2, terminal, Emphasis::bold);
    }
    out += '\n';
    std::size_t widest = 0;
    for (const auto& [control, position] : prompt.controls) {
        widest = std::max(widest, columns(for_terminal(control, terminal)));
    }
    widest = std::min(widest, terminal.width / 2);
    for (const auto& [control, position] : prompt.controls) {
        const std::string name = cut(control, widest, terminal);
        const std::size_t column = 2 + widest + 2;
        const std::string padded =
            name + std::string(column - 2 - std::min(columns(name), column - 2), ' ');
        std::string lines = wrapped(position, column, column, terminal);
        lines.replace(0, std::min(column, lines.size()), "  " + padded);
        out += lines;
    }
    if (!prompt.cautions.empty()) {
        out += '\n';
    }
    for (const std::string& caution : prompt.cautions) {
        const std::string body = wrapped(sequences::caution_text(caution), 11, 2, terminal);
        TextLine mark{terminal};
        mark.to(2).put("Caution", Emphasis::bold);
        std::string head = mark.text();
        head.pop_back();
        out += head + "  " + body.substr(std::min<std::size_t>(11, body.size()));
    }
    out += '\n' + keys_text(terminal);
    return out;
}

std::string progress_line(const StepProgress& progress, const Terminal& terminal) {
    std::vector<std::string> parts;
    if (!progress.channels.empty()) {
        parts.push_back(progress.channels);
    }
    if (!progress.doing.empty()) {
        parts.push_back(progress.whole > Seconds{0.0}
                            ? fmt::format("{} {:.1f} of {:.1f} s", progress.doing,
                                          progress.done.in<Seconds>(), progress.whole.in<Seconds>())
                            : progress.doing);
    }
    if (progress.left > Seconds{0.0}) {
        parts.push_back(duration_words(progress.left) + " left");
    }
    const std::string head = fmt::format("step {} of {}", progress.step, progress.count);
    std::string rest = "  " + progress.label;
    for (const std::string& part : parts) {
        rest += "   " + part;
    }
    TextLine line{terminal};
    line.put(head, Emphasis::bold);
    line.put(cut(rest, terminal.width > head.size() + 1 ? terminal.width - head.size() - 1 : 0,
                 terminal));
    std::string text = line.text();
    text.pop_back();
    return text;
}

std::string plain_line(std::string_view time, const StepProgress& progress,
                       std::string_view outcome, const Terminal& terminal) {
    std::string text = fmt::format("{}{}step {}/{} {}", time, time.empty() ? "" : " ",
                                   progress.step, progress.count, progress.label);
    if (!outcome.empty()) {
        text += fmt::format(": {}", outcome);
    }
    return wrapped(text, 0, 2, terminal);
}

}  // namespace afterload::runner
