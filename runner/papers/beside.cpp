#include "runner/papers/beside.hpp"

#include "runner/papers/time_text.hpp"
#include "sequences/hint_reader.hpp"

#include <fmt/format.h>

namespace afterload::runner {

std::string_view name(Remark::Kind kind) {
    return kind == Remark::Kind::accept ? "accept" : "note";
}

std::string remark_text(const Remark& remark) {
    return fmt::format("{}{}, {}: {}", remark.kind == Remark::Kind::accept ? "accepted by " : "",
                       remark.by.empty() ? "somebody" : remark.by, stamp_text(remark.at),
                       remark.text);
}

std::vector<const Remark*> Beside::of_figure(std::string_view id) const {
    std::vector<const Remark*> found;
    for (const Remark& remark : remarks) {
        if (remark.kind == Remark::Kind::accept && remark.figure == id) {
            found.push_back(&remark);
        }
    }
    return found;
}

std::vector<const Remark*> Beside::of_run() const {
    std::vector<const Remark*> found;
    for (const Remark& remark : remarks) {
        if (remark.kind == Remark::Kind::note) {
            found.push_back(&remark);
        }
    }
    return found;
}

Hints Beside::hints_of(const RunDocument& run) const {
    return hints ? *hints : hints_for(run, sequences::shipped_hints());
}

}  // namespace afterload::runner
