/// A job file by asking: the complaint first, then what was found and done. Everything can be
/// skipped.
#pragma once

#include "runner/interview/new_file.hpp"
#include "runner/interview/questions.hpp"
#include "sequences/job.hpp"

#include <string>
#include <utility>
#include <vector>

namespace afterload::runner {

class JobInterview {
public:
    JobInterview(Questions& questions, std::string today)
        : questions_{questions}, today_{std::move(today)} {}

    [[nodiscard]] AskedFile ask();

private:
    bool words(const std::string& question, std::string& into);
    bool list(const std::string& question, std::vector<std::string>& into);
    /// Entries of one kind, until one is not named; each has further questions.
    template <class Entry>
    bool entries(std::vector<Entry>& into, const char* first, const char* another,
                 std::string Entry::*named_by,
                 const std::vector<std::pair<const char*, std::string Entry::*>>& further);
    bool parts();
    bool adjustments();
    bool safety();
    std::string fitting(const std::string& question, const std::string& text);
    [[nodiscard]] std::string text() const;

    Questions& questions_;
    std::string today_;
    sequences::Job job_;
    std::vector<std::string> continued_;  ///< what was longer than one text of a file may be
    std::string stopped_at_;
    bool anything_ = false;
};

}  // namespace afterload::runner
