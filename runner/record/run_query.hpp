/// What is asked of the record of runs; empty members ask for nothing.
#pragma once

#include <string>

namespace afterload::runner {

struct RunQuery {
    std::string job;
    std::string serial;
    std::string model;    ///< capitals or not
    std::string state;    ///< as in run.json: "done"
    std::string verdict;  ///< as in run.json: "fail"
    std::string since;    ///< RFC 3339, or the beginning of one: "2026-03"
    std::string text;     ///< stands somewhere in the line, capitals or not
    int most = 100;
};

}  // namespace afterload::runner
