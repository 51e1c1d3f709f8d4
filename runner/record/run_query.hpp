/// What is asked of the record of runs; empty members ask for nothing.
#pragma once

#include <string>

namespace afterload::runner {

struct RunQuery {
    std::string job;
    std::string serial;
    std::string model;    ///< capitals or not
    std::string stage;    ///< as in run.json: "as_received"
    std::string state;    ///< as in run.json: "done"
    std::string verdict;  ///< as in run.json: "fail"
    std::string since;    ///< RFC 3339, or the beginning of one: "2026-03"
    std::string until;    ///< the same; the whole of that day, month or year is in it
    std::string failed;   ///< stands in the label of a figure that failed, capitals or not
    std::string said;     ///< stands in what persons wrote of it, capitals or not
    std::string text;     ///< stands somewhere in the line, capitals or not
    int most = 100;
};

}  // namespace afterload::runner
