#include "analysis/shared_budget.hpp"

#include <algorithm>
#include <cmath>
#include <utility>
#include <vector>

namespace afterload::analysis {

Budget budget_of_difference(const Budget& before, const Budget& after, bool same_rig,
                            bool sign_known, double& cancelled) {
    const auto shared = [](const BudgetLine& line) {
        return line.kind == BudgetLine::Kind::systematic;
    };
    Budget out;
    std::vector<bool> used(after.size(), false);
    double dropped = 0.0;
    for (const BudgetLine& line : before) {
        std::size_t twin = after.size();
        for (std::size_t i = 0; i < after.size() && twin == after.size(); ++i) {
            if (same_rig && shared(line) && !used[i] && shared(after[i]) &&
                after[i].source == line.source) {
                twin = i;
            }
        }
        BudgetLine left = line;
        if (twin == after.size()) {
            left.source += ", before";
        } else {
            used[twin] = true;
            left.u_k1 =
                sign_known ? std::abs(after[twin].u_k1 - line.u_k1) : after[twin].u_k1 + line.u_k1;
            left.degrees_of_freedom =
                std::min(line.degrees_of_freedom, after[twin].degrees_of_freedom);
            dropped +=
                after[twin].u_k1 * after[twin].u_k1 + line.u_k1 * line.u_k1 - left.u_k1 * left.u_k1;
        }
        if (left.u_k1 > 0.0) {
            out.push_back(std::move(left));
        }
    }
    for (std::size_t i = 0; i < after.size(); ++i) {
        if (!used[i] && after[i].u_k1 > 0.0) {
            BudgetLine own = after[i];
            own.source += ", after";
            out.push_back(std::move(own));
        }
    }
    cancelled = std::sqrt(std::max(0.0, dropped));
    return out;
}

}  // namespace afterload::analysis
