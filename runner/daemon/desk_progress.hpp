/// A run's progress as events, and where it stands now.
#pragma once

#include "runner/daemon/event_log.hpp"
#include "runner/progress.hpp"

#include <functional>
#include <string>
#include <utility>

namespace afterload::runner {

/// Where the run stands.
struct RunPosition {
    std::string queue_id;
    std::string run;     ///< id of the run; empty until its folder is there
    std::string folder;  ///< its path
    int step = 0;
    int steps = 0;
    std::string step_name;
    std::string doing;
};
[[nodiscard]] Json run_position_json(const RunPosition& position);

class DeskProgress final : public Progress {
public:
    /// `moved` takes over where the run stands, on the run's thread.
    DeskProgress(EventLog& events, RunPosition start, std::function<void(const RunPosition&)> moved)
        : events_{events}, at_{std::move(start)}, moved_{std::move(moved)} {}

    void named(const std::string& id, const std::string& folder) override;
    void begins(int number, int count, const std::string& step) override;
    void doing(const std::string& what) override;
    void ended(int number, int count, const StepResult& step) override;

private:
    EventLog& events_;
    RunPosition at_;
    std::function<void(const RunPosition&)> moved_;
};

}  // namespace afterload::runner
