/// The result sheet of a terminal: figure, left, right, uncertainty, limit, mark and verdict, one
/// reason where it is not a plain pass; the answer and the path come last, where the eye is.
///
/// 80 columns, never wider than the terminal; a narrow form below 72. The mark is a small picture:
/// the line is the limit, the o is the value, right of the line is inside. In the sheet left and
/// right share the larger uncertainty.
#pragma once

#include "analysis/verdict.hpp"
#include "runner/papers/beside.hpp"
#include "runner/papers/run_document.hpp"
#include "runner/papers/terminal_text.hpp"

#include <string>
#include <string_view>

namespace afterload::runner {

/// `report_path` is printed last; empty: no such line. With an earlier run in `beside` each row has
/// its readings below, and whether they really changed; what persons said stands below its row, or
/// below the table.
[[nodiscard]] std::string sheet(const RunDocument& run, std::string_view report_path,
                                const Terminal& terminal, const Beside& beside = {});

/// "fail: damping factor, right", without the verdict's word: the cause of the run's verdict, with
/// conditional passes, assumed conditions and what was not tested when it passes.
[[nodiscard]] std::string result_cause(const RunDocument& run);

/// Five characters: "  | o" pass, "  |o " conditional pass, " o|  " conditional fail, "o |  " fail,
/// " #|# " not resolvable, "  :  " not comparable.
[[nodiscard]] std::string_view mark(analysis::VerdictKind kind);

/// How the verdict's word is set: plain, bold, underlined, inverse.
[[nodiscard]] Emphasis emphasis_of(analysis::VerdictKind kind);

}  // namespace afterload::runner
