#include "runner/client/daemon_refusal.hpp"

#include "runner/console.hpp"
#include "runner/exit_status.hpp"

#include <fmt/format.h>

#include <string>

namespace afterload::runner {
namespace {

int exit_status_of(const ClientFailure& failure) {
    switch (failure.status) {
        case 404:
            return exit_no_input;
        case 400:
        case 422:
            return exit_bad_input;
        case 507:
            return exit_cannot_write;
        case 409:
            return exit_usage;
        default:
            return exit_no_device;
    }
}

}  // namespace

int refuse(const OutputOptions& output, const ClientFailure& failure) {
    const int status = exit_status_of(failure);
    if (failure.mistakes.empty()) {
        std::string why = failure.why;
        if (failure.nobody) {
            why += "; start afterloadd";
        }
        return refuse(output, why, status);
    }
    if (output.json) {
        Json document;
        document["schema"] = "afterload/mistakes/1";
        document["exit_status"] = status;
        document["mistakes"] = failure.mistakes;
        print(json_line(document) + "\n");
        return status;
    }
    for (const Json& one : failure.mistakes) {
        print_error(
            fmt::format("{}:{}:{}: {}{}\n", one.value("file", ""), one.value("line", 0),
                        one.value("column", 0), one.value("what", ""),
                        one.value("advice", "").empty() ? "" : "; " + one.value("advice", "")));
    }
    print_error(fmt::format("{} mistakes; nothing was driven; exit status {}\n",
                            failure.mistakes.size(), status));
    return status;
}

}  // namespace afterload::runner
