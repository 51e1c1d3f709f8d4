#include "runner/interview/rating_words.hpp"

#include "runner/papers/figure_words.hpp"
#include "sequences/rating_text.hpp"

namespace afterload::runner {

std::string rating_words(const RatedFigure& rated) {
    std::string out{words(rated.figure)};
    out += " " + sequences::limit_words(rated.limit, rated.figure);
    std::string beside;
    for (const std::string_view key : condition_keys()) {
        if (const std::string said = condition_words(rated.conditions, key); !said.empty()) {
            beside += (beside.empty() ? ": " : ", ") + said;
        }
    }
    return out + beside + (rated.source.empty() ? "" : "; " + rated.source);
}

}  // namespace afterload::runner
