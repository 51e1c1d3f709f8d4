#include "runner/terminal_progress.hpp"

#include "runner/console.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <unistd.h>

namespace afterload::runner {
namespace {

std::string outcome(const StepResult& step) {
    if (!step.skipped.empty()) {
        return "not done: " + step.skipped;
    }
    int failed = 0;
    int scored = 0;
    for (const ScoredFigure& figure : step.figures) {
        scored += figure.verdict ? 1 : 0;
        failed += figure.verdict && figure.verdict->kind == analysis::VerdictKind::fail ? 1 : 0;
    }
    std::string text =
        scored == 0 ? std::string{"done"} : fmt::format("{} scored, {} fail", scored, failed);
    if (!step.retakes.empty()) {
        text += fmt::format(", {} taken again", step.retakes.size());
    }
    if (!step.events.empty()) {
        text += fmt::format(", {} event{}", step.events.size(), step.events.size() == 1 ? "" : "s");
    }
    return text;
}

}  // namespace

TerminalProgress::TerminalProgress(Terminal terminal)
    : terminal_{terminal}, live_{::isatty(STDERR_FILENO) == 1} {}

void TerminalProgress::begins(int number, int count, const std::string& step) {
    step_ = fmt::format("step {}/{} {}", number, count, step);
    doing("");
}

void TerminalProgress::doing(const std::string& what) {
    if (!live_) {
        return;
    }
    std::string line = for_terminal(step_ + (what.empty() ? "" : ": " + what), terminal_);
    line.resize(std::min(line.size(), terminal_.width - 1));
    print_error("\r\033[K" + line);
}

void TerminalProgress::ended(int number, int count, const StepResult& step) {
    if (live_) {
        print_error("\r\033[K");
    }
    print_error(
        for_terminal(fmt::format("step {}/{} {}: {}", number, count, step.name, outcome(step)),
                     terminal_) +
        "\n");
}

}  // namespace afterload::runner
