#include "runner/papers/retest_of.hpp"

#include "analysis/wording.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <map>

namespace afterload::runner {
std::string RetestOf::standing() const {
    std::map<std::string, int> counts;
    for (const FigureThatStands& figure : stands) {
        ++counts[figure.verdict];
    }
    std::vector<std::string> parts;
    for (const char* wanted : {"pass", "conditional_pass", "conditional_fail", "fail",
                               "not_resolvable", "not_comparable"}) {
        if (const auto found = counts.find(wanted); found != counts.end()) {
            parts.push_back(fmt::format("{} {}", found->second, analysis::spoken(wanted)));
        }
    }
    return fmt::format("{}", fmt::join(parts, ", "));
}

}  // namespace afterload::runner
