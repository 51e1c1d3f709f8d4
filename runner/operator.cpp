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

std::optional<SoakYes> TerminalOperator::consent(const SoakQuestion& question) {
    const std::string wanted = "yes " + duration_words(question.duration);
    out_ << fmt::format("{} is to be driven for {} at {}.\n", question.unit,
                        duration_words(question.duration), question.level);
    for (const std::string& caution : question.cautions) {
        out_ << "  Caution  " << caution << "\n";
    }
    SoakYes yes;
    if (question.must_stay) {
        out_ << "  " << question.why << "\n"
             << "Somebody has to stay with it. Who stays? (Enter alone: do not begin) ";
    } else {
        out_ << "Who can be reached while it runs, name and number? "
                "(\"stays\": somebody stays with it; Enter alone: do not begin) ";
    }
    out_ << std::flush;
    if (!std::getline(in_, yes.reachable) || yes.reachable.empty()) {
        return std::nullopt;
    }
    yes.stays = question.must_stay || yes.reachable == "stays";
    out_ << fmt::format("Type \"{}\" to begin: ", wanted) << std::flush;
    std::string typed;
    if (!std::getline(in_, typed) || typed != wanted) {
        out_ << "not begun\n" << std::flush;
        return std::nullopt;
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
