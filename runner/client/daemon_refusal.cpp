#include "runner/client/daemon_refusal.hpp"

#include "runner/console.hpp"
#include "runner/exit_status.hpp"
#include "runner/mistakes.hpp"
#include "sequences/diagnostic.hpp"

#include <fmt/format.h>

#include <set>
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
        print(json_line(mistakes_document(failure.mistakes, status)) + "\n");
        return status;
    }
    std::set<std::string> files;
    for (const Json& one : failure.mistakes) {
        files.insert(one.value("file", ""));
        print_error(
            fmt::format("{}:{}:{}: {}{}\n", one.value("file", ""), one.value("line", 0),
                        one.value("column", 0), one.value("what", ""),
                        one.value("advice", "").empty() ? "" : "; " + one.value("advice", "")));
    }
    print_error(sequences::count_line(failure.mistakes.size(), files.size(), status) + "\n");
    return status;
}

}  // namespace afterload::runner
