/// The yes that a soak needs before anything is driven, and when a bench may be left alone at all.
#pragma once

#include "runner/operator.hpp"
#include "runner/papers/soak_document.hpp"
#include "runner/run.hpp"
#include "runner/trouble.hpp"

#include <optional>
#include <string>

namespace afterload::runner {

/// Why nobody may leave this bench alone: no sensor on the unit, or nothing that cuts the mains
/// without a program. Nothing: it may be.
[[nodiscard]] std::optional<std::string> cannot_be_left(const sequences::BenchFile& bench);

/// What a run's soaks ask of the person; nothing where it has none.
[[nodiscard]] std::optional<SoakQuestion> soak_question(const RunPlan& plan);

/// Asks, and takes down what was answered. Fails with Trouble::Kind::person where the answer is not
/// a yes, or is one that the bench does not bear.
[[nodiscard]] RunResult<SoakConsent> ask_for_soak(const SoakQuestion& question, Operator& person);

}  // namespace afterload::runner
