/// What stands beside a run's own document on its papers: an earlier run of the unit, what persons
/// said, and where to look first. None changes a figure or a verdict.
#pragma once

#include "runner/hints/hints.hpp"
#include "runner/papers/run_document.hpp"

#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace afterload::runner {

/// A person's word: about the whole run, or about a figure that is accepted as it is.
struct Remark {
    enum class Kind { note, accept };
    Kind kind = Kind::note;
    std::string at;      ///< RFC 3339, UTC
    std::string by;      ///< who said it
    std::string figure;  ///< id of the figure that is accepted; empty for a note
    std::string text;
};
[[nodiscard]] std::string_view name(Remark::Kind kind);  ///< "note", "accept"

/// "anna, 2026-03-12 16:05 UTC: hum is the customer's own lead"; an acceptance says "accepted by
/// anna, ...".
[[nodiscard]] std::string remark_text(const Remark& remark);

struct Beside {
    const RunDocument* before = nullptr;  ///< null: none
    std::vector<Remark> remarks;          ///< in the order in which they were said
    std::optional<Hints> hints;  ///< by rules of the shop's own; absent: by those that ship

    /// Those that accept the figure called `id`.
    [[nodiscard]] std::vector<const Remark*> of_figure(std::string_view id) const;
    /// Those about the whole run.
    [[nodiscard]] std::vector<const Remark*> of_run() const;
    /// Its hints, else what the rules that ship say of `run`.
    [[nodiscard]] Hints hints_of(const RunDocument& run) const;
};

}  // namespace afterload::runner
