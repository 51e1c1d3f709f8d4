#include "runner/operator.hpp"

#include "runner/papers/prompt_text.hpp"

#include <istream>
#include <ostream>

namespace afterload::runner {

Answer AssumedOperator::ask(const sequences::Prompt& /*prompt*/, int /*number*/, int /*count*/) {
    return Answer::done;
}

std::string AssumedOperator::type_in(const std::string& /*what*/) {
    return {};
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
