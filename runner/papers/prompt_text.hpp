/// What a person is told while a run goes on: the prompt, and one line of progress.
#pragma once

#include "analysis/quantity.hpp"
#include "runner/papers/terminal_text.hpp"
#include "sequences/sequence.hpp"

#include <string>
#include <string_view>

namespace afterload::runner {

/// A prompt as a block: what to set, as positions and not prose; whether the output is muted; the
/// cautions at the step that needs them; one key an answer. `number` of `count` prompts.
[[nodiscard]] std::string prompt_text(const sequences::Prompt& prompt, int number, int count,
                                      const Terminal& terminal = {});

/// Where a run stands.
struct StepProgress {
    int step = 1;
    int count = 1;
    std::string label;     ///< "THD 1 W, 1 kHz"
    std::string channels;  ///< "both"
    std::string doing;     ///< "recording"
    Seconds done;
    Seconds whole;
    Seconds left;  ///< of the run; 0: not known
};
/// "step 4 of 15  THD 1 W, 1 kHz   both   recording 2.4 of 4.0 s   3 min 20 s left": one line, as
/// wide as the terminal at most, no newline, to be rewritten in place.
[[nodiscard]] std::string progress_line(const StepProgress& progress, const Terminal& terminal);

/// "16:05:31 step 1/15 rig check: sound": a line for a pipe, with its newline.
[[nodiscard]] std::string plain_line(std::string_view time, const StepProgress& progress,
                                     std::string_view outcome, const Terminal& terminal);

}  // namespace afterload::runner
