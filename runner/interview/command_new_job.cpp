#include "runner/commands.hpp"
#include "runner/console.hpp"
#include "runner/exit_status.hpp"
#include "runner/interview/job_interview.hpp"
#include "runner/wall_clock.hpp"
#include "sequences/diagnostic.hpp"
#include "sequences/job_reader.hpp"

#include <fmt/format.h>

#include <iostream>

namespace afterload::runner {

int new_job(const NewJobOptions& command, const OutputOptions& output) {
    Questions questions{std::cin, std::cerr, error_terminal(output)};
    if (!may_write(questions, command.file).value_or(false)) {
        return refuse_to_overwrite(output, command.file);
    }
    JobInterview interview{questions, wall_clock_stamp().substr(0, 10)};
    AskedFile file = interview.ask();
    // What is written must be taken, a draft too: a mistake here is the program's own.
    if (!file.text.empty()) {
        if (const auto job = sequences::read_job(file.text, command.file); !job) {
            return keep_with_mistakes(file, command.file, job.error(), output);
        }
    }
    file.next = fmt::format("afterload run ... --job {}", sequences::escaped(command.file));
    return write_new_file(file, command.file, output);
}

}  // namespace afterload::runner
