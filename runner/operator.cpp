#include "runner/operator.hpp"

#include "runner/papers/prompt_text.hpp"
#include "runner/papers/time_text.hpp"

#include <fmt/format.h>

#include <istream>
#include <ostream>

namespace afterload::runner {

Answer AssumedOperator::ask(const sequences::Prompt& /*prompt*/, int /*number*/, int /*count*/) {
    return Answer::done;
}

std::string AssumedOperator::type_in(const std::string& /*what*/) {
    return {};
}

std::optional<SoakYes> Operator::consent(const SoakQuestion& /*question*/) {
    return std::nullopt;
}

std::optional<SoakYes> AssumedOperator::consent(const SoakQuestion& question) {
    return SoakYes{question.must_stay, "assumed: everything that drives is simulated"};
}

std::optional<SoakYes> typed_consent(const SoakQuestion& question, const TypedIn& typed_in) {
    std::string text = fmt::format("{} is to be driven for {} at {}.\n", question.unit,
                                   duration_words(question.duration), question.level);
    for (const std::string& caution : question.cautions) {
        text += "  Caution  " + caution + "\n";
    }
    if (question.must_stay) {
        text += "  " + question.why + "\n" +
                "Somebody has to stay with it. Who stays? (Enter alone: do not begin)";
    } else {
        text +=
            "Who can be reached while it runs, name and number? "
            "(\"stays\": somebody stays with it; Enter alone: do not begin)";
    }
    const auto who = typed_in(text);
    if (!who || who->empty()) {
        return std::nullopt;
    }
    const std::string wanted = "yes " + duration_words(question.duration);
    if (typed_in(fmt::format("Type \"{}\" to begin:", wanted)) != wanted) {
        return std::nullopt;
    }
    return SoakYes{question.must_stay || *who == "stays", *who};
}

std::optional<SoakYes> TerminalOperator::consent(const SoakQuestion& question) {
    auto yes = typed_consent(question, [this](const std::string& text) {
        out_ << text << " " << std::flush;
        std::string line;
        return std::getline(in_, line) ? std::optional{line} : std::nullopt;
    });
    if (!yes) {
        out_ << "not begun\n" << std::flush;
    }
    return yes;
}

Answer TerminalOperator::ask(const sequences::Prompt& prompt, int number, int count) {
    while (true) {
        out_ << prompt_text(prompt, number, count) << std::flush;
        std::string line;
        if (!std::getline(in_, line)) {
            out_ << "no answer can come any more: stopping, safely\n" << std::flush;
            return Answer::stop;
        }
        if (line.empty()) {
            return Answer::done;
        }
        if (line == "s") {
            return Answer::skip;
        }
        if (line == "q") {
            return Answer::stop;
        }
        if (line == "n") {
            out_ << "note: " << std::flush;
            std::string note;
            if (std::getline(in_, note) && !note.empty()) {
                notes_.push_back(note);
            }
            continue;
        }
        if (line.starts_with("n ")) {
            notes_.push_back(line.substr(2));
            continue;
        }
        out_ << "Enter for done, s to skip, n for a note, q to stop\n" << std::flush;
    }
}

std::string TerminalOperator::type_in(const std::string& what) {
    out_ << what << " (Enter alone: not read): " << std::flush;
    std::string line;
    std::getline(in_, line);
    return line;
}

}  // namespace afterload::runner
