#include "runner/commands.hpp"
#include "runner/console.hpp"
#include "runner/exit_status.hpp"
#include "runner/finished_run.hpp"
#include "runner/papers/utf8_text.hpp"
#include "runner/remarks/remark_file.hpp"
#include "runner/wall_clock.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <pwd.h>
#include <string>
#include <unistd.h>
#include <utility>
#include <vector>

namespace afterload::runner {
namespace {

/// The name that the person logged in with.
std::string login_name() {
    std::array<char, 4096> room{};
    passwd entry{};
    passwd* found = nullptr;
    const bool known = ::getpwuid_r(::geteuid(), &entry, room.data(), room.size(), &found) == 0 &&
                       found != nullptr;
    return known ? std::string{entry.pw_name} : fmt::format("user {}", ::geteuid());
}

/// What is wrong with a text; empty when nothing is.
std::string unfit(const std::string& text, const char* what) {
    const bool blank = text.find_first_not_of(" \t\r\n") == std::string::npos;
    if (blank) {
        return fmt::format("{} is empty: say it in quotes", what);
    }
    if (text.size() > longest_remark) {
        return fmt::format("{} is longer than {} bytes", what, longest_remark);
    }
    for (std::size_t i = 0; i < text.size();) {
        const Utf8Character next = next_character(std::string_view{text}.substr(i));
        if (!next.valid) {
            return fmt::format("{} is not UTF-8 at byte {}", what, i + 1);
        }
        i += next.bytes;
    }
    return {};
}

int keep(const FinishedRun& run, Remark remark, const std::string& by,
         const OutputOptions& output) {
    remark.at = wall_clock_stamp();
    remark.by = by.empty() ? login_name() : by;
    if (const auto kept = add_remark(run.folder, remark); !kept) {
        return refuse(output, kept.error(), exit_cannot_write);
    }
    if (output.json) {
        print(json_line(remark_json(remark)) + "\n");
    } else {
        const Terminal terminal = output_terminal(output);
        print(wrapped(remark_text(remark), 0, 2, terminal));
        print(wrapped(fmt::format("kept in {}/{}; the verdict stays as it is, and afterload report "
                                  "puts it on the report",
                                  run.folder.path(), remark_file_name),
                      0, 2, terminal, Emphasis::faint));
    }
    return exit_pass;
}

}  // namespace

int note(const NoteOptions& command, const OutputOptions& output) {
    for (const auto& [text, what] :
         {std::pair{command.text, "the note"},
          std::pair{command.by.empty() ? std::string{"x"} : command.by, "--by"}}) {
        if (const std::string wrong = unfit(text, what); !wrong.empty()) {
            return refuse(output, wrong, exit_usage);
        }
    }
    const auto run = read_finished_run(command.run);
    if (!run) {
        return refuse(output, run.error(), exit_bad_input);
    }
    return keep(*run, {Remark::Kind::note, {}, {}, {}, command.text}, command.by, output);
}

int accept(const AcceptOptions& command, const OutputOptions& output) {
    for (const auto& [text, what] :
         {std::pair{command.because, "--because"},
          std::pair{command.by.empty() ? std::string{"x"} : command.by, "--by"}}) {
        if (const std::string wrong = unfit(text, what); !wrong.empty()) {
            return refuse(output, wrong, exit_usage);
        }
    }
    const auto run = read_finished_run(command.run);
    if (!run) {
        return refuse(output, run.error(), exit_bad_input);
    }
    std::vector<const ScoredFigure*> found;
    for (const StepResult& step : run->document.steps) {
        for (const ScoredFigure& entry : step.figures) {
            if (entry.id == command.figure) {
                found = {&entry};
                break;
            }
            if (entry.id.find(command.figure) != std::string::npos) {
                found.push_back(&entry);
            }
        }
        if (found.size() == 1 && found.front()->id == command.figure) {
            break;
        }
    }
    const Terminal terminal = error_terminal(output);
    if (found.size() != 1) {
        std::string ids;
        for (std::size_t i = 0; i < std::min<std::size_t>(found.size(), 8); ++i) {
            ids += "\n  " + for_terminal(found[i]->id, terminal);
        }
        return refuse(output,
                      found.empty()
                          ? fmt::format("no figure of this run is called “{}”; the ids stand in "
                                        "figures.csv",
                                        for_terminal(command.figure, terminal))
                          : fmt::format("{} figures of this run are called so; write one id:{}{}",
                                        found.size(), ids, found.size() > 8 ? "\n  ..." : ""),
                      exit_usage);
    }
    const ScoredFigure& entry = *found.front();
    if (!entry.verdict || entry.verdict->kind == analysis::VerdictKind::pass) {
        return refuse(output,
                      fmt::format("{} {}: there is nothing to accept; afterload note says "
                                  "something of the run",
                                  for_terminal(entry.id, terminal),
                                  entry.verdict ? "passes" : "has no verdict"),
                      exit_usage);
    }
    return keep(*run, {Remark::Kind::accept, {}, {}, entry.id, command.because}, command.by,
                output);
}

}  // namespace afterload::runner
