/// A soak that was stopped taken up again, and the cause that a person has to enter after a kill.
#pragma once

#include "runner/finished_run.hpp"
#include "runner/run.hpp"
#include "runner/run_folder.hpp"

#include <tl/expected.hpp>

#include <optional>
#include <string>

namespace afterload::runner {

/// The soak of a run that did not come to its end: a step of the document; null: it has none.
[[nodiscard]] const StepResult* unfinished_soak(const RunDocument& document);

/// What carrying on with `run` takes, from the files in its folder, as they were used.
///
/// Fails, in one line: no soak of it is unfinished; it turned everything off and nobody has entered
/// a cause; a file is missing or not the one that was used.
[[nodiscard]] tl::expected<RunPlan, std::string> plan_to_continue(const FinishedRun& run);

/// Writes down what a person found. Fails where nothing was turned off, or it cannot be written.
[[nodiscard]] tl::expected<void, std::string> enter_cause(FinishedRun run,
                                                          const std::string& because,
                                                          const std::string& by);

/// The newest run under `runs` in which a soak of the unit with this serial turned everything off,
/// where nobody has entered a cause; nothing: there is none, or the serial is empty.
[[nodiscard]] std::optional<std::string> killed_without_cause(const std::string& runs,
                                                              const std::string& serial);

}  // namespace afterload::runner
