/// A sequence to begin with: one that ships, or a short one with comments.
#pragma once

#include "runner/interview/new_file.hpp"
#include "runner/interview/questions.hpp"

#include <string>

namespace afterload::runner {

/// Asks which, and what it is to be called. What is skipped has the usual answer; where the answers
/// end nothing is written, for everything that was given is in the sequences that ship.
[[nodiscard]] AskedFile sequence_asked_for(Questions& questions, const std::string& today);

}  // namespace afterload::runner
