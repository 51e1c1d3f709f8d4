/// The description of the daemon's interface, as it is served: openapi.json of this folder.
#pragma once

#include <string_view>

namespace afterload::runner {

[[nodiscard]] std::string_view openapi_text();

}  // namespace afterload::runner
