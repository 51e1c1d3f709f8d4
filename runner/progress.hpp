/// What a run tells its listeners while it goes on.
#pragma once

#include "runner/papers/run_document.hpp"

#include <string>

namespace afterload::runner {

class Progress {
public:
    Progress() = default;
    Progress(const Progress&) = delete;
    Progress& operator=(const Progress&) = delete;
    virtual ~Progress() = default;

    /// The run has its name now, and a folder.
    virtual void named(const std::string& /*id*/, const std::string& /*folder*/) {}
    /// Step `number` of `count` begins.
    virtual void begins(int number, int count, const std::string& step) = 0;
    /// What the step is doing now: "recording 0.4 s at 1 W, 1 kHz".
    virtual void doing(const std::string& what) = 0;
    virtual void ended(int number, int count, const StepResult& step) = 0;
};

/// Listens to nothing.
class NoProgress final : public Progress {
public:
    void begins(int, int, const std::string&) override {}
    void doing(const std::string&) override {}
    void ended(int, int, const StepResult&) override {}
};

}  // namespace afterload::runner
