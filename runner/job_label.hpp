/// What ties the runs of one repair together.
#pragma once

#include "sequences/job.hpp"

#include <string>

namespace afterload::runner {

/// Is `word` of --job a job file, and not a ticket?
[[nodiscard]] bool is_job_file(const std::string& word);

/// The ticket of the job; without one the name of its file, "2417" of "jobs/2417.job.yaml".
[[nodiscard]] std::string job_label(const sequences::Job& job);

/// The label that runs carry for what was written behind --job: the ticket as it stands, or that of
/// the job file. A file that cannot be read stands for its name.
[[nodiscard]] std::string job_label(const std::string& word);

}  // namespace afterload::runner
