/// The daemon's interface: what each request means, without the wire it came over.
///
/// Described by runner/daemon/openapi.json, which /v1/openapi.json serves.
#pragma once

#include "runner/daemon/run_desk.hpp"

#include <string>
#include <string_view>
#include <vector>

namespace afterload::runner {

struct ApiRequest {
    std::string method;  ///< "GET"
    std::string target;  ///< path and query, as they came
    std::string body;
};

struct ApiResponse {
    int status = 200;
    std::string type = "application/json";
    std::string body;
};

/// A path taken apart, percent escapes decoded; nothing of it is ever a path of a file.
struct ApiTarget {
    std::vector<std::string> segments;
    std::vector<std::pair<std::string, std::string>> query;
};
/// Fails on what is no absolute path, on a bad escape, and on dot segments.
[[nodiscard]] tl::expected<ApiTarget, std::string> api_target(std::string_view target);

/// A problem as RFC 9457 has it.
[[nodiscard]] ApiResponse problem(int status, std::string_view what,
                                  const Json& mistakes = Json::array());

/// Answers everything but the events. Never throws for what a client sent.
[[nodiscard]] ApiResponse answer_api(const ApiRequest& request, RunDesk& desk);

}  // namespace afterload::runner
