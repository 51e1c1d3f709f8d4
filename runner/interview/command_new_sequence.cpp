#include "runner/commands.hpp"
#include "runner/console.hpp"
#include "runner/exit_status.hpp"
#include "runner/interview/sequence_interview.hpp"
#include "runner/mistakes.hpp"
#include "runner/wall_clock.hpp"
#include "sequences/diagnostic.hpp"
#include "sequences/sequence_reader.hpp"

#include <fmt/format.h>

#include <iostream>

namespace afterload::runner {

int new_sequence(const NewSequenceOptions& command, const OutputOptions& output) {
    Questions questions{std::cin, std::cerr, error_terminal(output)};
    if (!may_write(questions, command.file).value_or(false)) {
        return refuse_to_overwrite(output, command.file);
    }
    AskedFile file = sequence_asked_for(questions, wall_clock_stamp().substr(0, 10));
    if (file.text.empty()) {
        return refuse(output, "the answers ended: nothing was written", exit_stopped);
    }
    // What is written must be taken: a mistake here is the program's own.
    const auto read = sequences::read_sequence(file.text, command.file);
    if (!read) {
        return show_mistakes(output, {read.error()}, exit_internal);
    }
    file.told = fmt::format("sequence with {} steps", read->steps.size());
    file.next = fmt::format("afterload run {} --unit RATING --bench BENCH --plan",
                            sequences::escaped(command.file));
    return write_new_file(file, command.file, output);
}

}  // namespace afterload::runner
