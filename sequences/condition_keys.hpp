/// The keys of the conditions in a rating file: the same names as condition_keys() in
/// analysis/conditions.hpp.
#pragma once

#include "analysis/conditions.hpp"

#include <string_view>
#include <vector>

namespace afterload::sequences {

class Reading;
struct Node;

/// Reads one condition by its key.
struct ConditionKey {
    std::string_view name;
    void (*read)(Reading& reading, const Node& value, Conditions& into);
};

/// All of them, in the order of afterload::condition_keys().
[[nodiscard]] const std::vector<ConditionKey>& condition_key_table();

}  // namespace afterload::sequences
