/// How the report looks: one style sheet for screen, phone, paper, light and dark.
#pragma once

#include <string>
#include <string_view>

namespace afterload::runner {

/// `foot` stands at the foot of every printed page, beside its number.
[[nodiscard]] std::string report_style(std::string_view foot);

}  // namespace afterload::runner
