/// Names of the faults that a simulated bench knows, for the reader of bench files.
#pragma once

#include <string_view>
#include <vector>

namespace afterload::runner {

[[nodiscard]] const std::vector<std::string_view>& known_faults();

}  // namespace afterload::runner
