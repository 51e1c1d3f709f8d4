#include "runner/commands.hpp"
#include "runner/console.hpp"
#include "runner/exit_status.hpp"
#include "runner/input_file.hpp"
#include "runner/interview/rating_interview.hpp"
#include "runner/wall_clock.hpp"
#include "sequences/diagnostic.hpp"
#include "sequences/rating_reader.hpp"

#include <fmt/format.h>

#include <filesystem>
#include <iostream>
#include <system_error>

namespace afterload::runner {
namespace {

/// What is to be done with a file that is there.
struct Standing {
    bool write = false;
    std::optional<RatingStart> start;
};

Standing ask_what_stands(Questions& questions, const std::string& path) {
    const auto text = read_input(path);
    std::vector<std::string> choices{"leave it as it is"};
    const auto start = text ? rating_start(*text) : std::nullopt;
    if (start) {
        choices.push_back(fmt::format("go on with it: its {} figures stay, more are asked for",
                                      start->sheet.figures.size()));
    }
    choices.emplace_back("write it anew: what stands there is lost");
    questions.say(sequences::escaped(path) + " is there already.");
    const auto choice = questions.choice("What is to be done", choices);
    if (!choice || *choice == 0) {
        return {};
    }
    if (start && *choice == 1) {
        return {true, start};
    }
    return {questions.yes("Write over it? What stands there is lost", false).value_or(false), {}};
}

}  // namespace

int new_rating(const NewRatingOptions& command, const OutputOptions& output) {
    Questions questions{std::cin, std::cerr, error_terminal(output)};
    std::optional<RatingStart> start;
    std::error_code error;
    if (std::filesystem::exists(command.file, error)) {
        Standing standing = ask_what_stands(questions, command.file);
        if (!standing.write) {
            return refuse_to_overwrite(output, command.file);
        }
        start = std::move(standing.start);
    }
    RatingInterview interview{questions, wall_clock_stamp().substr(0, 10)};
    const auto search = [&](const std::string& maker, const std::string& model) {
        return search_libraries(
            command.libraries.empty() ? usual_libraries(command.file) : command.libraries, maker,
            model);
    };
    AskedFile file = interview.ask(search, std::move(start));
    const std::string shown = sequences::escaped(command.file);
    if (file.stopped_at.empty()) {
        // What is written must be taken: a mistake here is the program's own.
        const auto sheet = sequences::read_rating(file.text, command.file);
        if (!sheet) {
            return keep_with_mistakes(file, command.file, sheet.error(), output);
        }
        file.next = fmt::format("afterload run SEQUENCE --unit {}", shown);
    } else {
        file.next = rating_start(file.text)
                        ? fmt::format("afterload new rating {} goes on with it", shown)
                        : fmt::format("afterload new rating {} asks anew", shown);
    }
    return write_new_file(file, command.file, output);
}

}  // namespace afterload::runner
