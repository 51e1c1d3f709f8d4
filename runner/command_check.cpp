#include "runner/commands.hpp"
#include "runner/console.hpp"
#include "runner/exit_status.hpp"
#include "runner/input_file.hpp"
#include "runner/known_faults.hpp"
#include "runner/mistakes.hpp"
#include "runner/papers/json_text.hpp"
#include "sequences/bench_reader.hpp"
#include "sequences/daemon_reader.hpp"
#include "sequences/file_kind.hpp"
#include "sequences/hint_reader.hpp"
#include "sequences/job_reader.hpp"
#include "sequences/rating_reader.hpp"
#include "sequences/rig_file.hpp"
#include "sequences/sequence_reader.hpp"

#include <fmt/format.h>

#include <string_view>

namespace afterload::runner {
namespace {

/// Mistakes of one file; empty when there are none. Contradictions of a rating sheet are words.
struct Checked {
    sequences::Diagnostics mistakes;
    std::vector<std::string> contradictions;
};

template <class T>
Checked mistakes_of(tl::expected<T, sequences::Diagnostics> read) {
    return read ? Checked{} : Checked{std::move(read.error()), {}};
}

Checked check_text(const std::string& text, const std::string& path) {
    switch (sequences::kind_of(text, path)) {
        case sequences::FileKind::bench:
            return mistakes_of(sequences::read_bench(text, path, known_faults()));
        case sequences::FileKind::sequence:
            return mistakes_of(sequences::read_sequence(text, path));
        case sequences::FileKind::job:
            return mistakes_of(sequences::read_job(text, path));
        case sequences::FileKind::daemon:
            return mistakes_of(sequences::read_daemon(text, path));
        case sequences::FileKind::rig:
            return mistakes_of(sequences::read_rig(text, path));
        case sequences::FileKind::hints:
            return mistakes_of(sequences::read_hints(text, path, &sequences::shipped_hints()));
        case sequences::FileKind::rating:
            break;
    }
    auto sheet = sequences::read_rating(text, path);
    if (!sheet) {
        return {std::move(sheet.error()), {}};
    }
    return {{}, contradictions(*sheet)};
}

}  // namespace

int check(const CheckOptions& command, const OutputOptions& output) {
    std::vector<sequences::Diagnostics> wrong;
    std::vector<std::string> doubts;
    for (const std::string& path : command.files) {
        const auto text = read_input(path);
        if (!text) {
            return refuse(output, text.error(), exit_no_input);
        }
        Checked checked = check_text(*text, path);
        if (!checked.mistakes.empty()) {
            wrong.push_back(std::move(checked.mistakes));
        }
        for (const std::string& doubt : checked.contradictions) {
            doubts.push_back(fmt::format("{}: {}", path, doubt));
        }
    }
    if (!wrong.empty()) {
        return show_mistakes(output, wrong, exit_bad_input);
    }
    if (output.json) {
        Json document;
        document["schema"] = "afterload/mistakes/1";
        document["exit_status"] = 0;
        document["mistakes"] = Json::array();
        document["contradictions"] = doubts;
        print(json_line(document) + "\n");
        return exit_pass;
    }
    for (const std::string& doubt : doubts) {
        print(doubt + "\n");
    }
    print(std::to_string(command.files.size()) +
          (command.files.size() == 1 ? " file, no mistake\n" : " files, no mistake\n"));
    return exit_pass;
}

}  // namespace afterload::runner
