/// The events of a soak: what the watch tells and what the bench notices, each once, with its
/// blame.
#pragma once

#include "analysis/soak/blame.hpp"
#include "analysis/soak/event_pattern.hpp"
#include "analysis/soak/soak_event.hpp"
#include "runner/papers/run_document.hpp"
#include "runner/soak/soak_sensors.hpp"

#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <vector>

namespace afterload::runner {

class SoakEvents {
public:
    /// Events go to the end of `list`; `run_base` is the run's time at the soak's time zero.
    SoakEvents(std::vector<RunEvent>& list, Seconds run_base);

    struct Seen {
        int number = 0;  ///< on the sheet, from 1
        bool fresh = false;
    };
    /// What the watch told; `at` is its start on the soak's time.
    Seen see(const analysis::SoakEvent& event, Seconds at);
    /// What the bench itself noticed; its place in time is `at`.
    int add(RunEvent event, Seconds at);

    [[nodiscard]] RunEvent& at(int number) { return list_[static_cast<std::size_t>(number) - 1]; }
    [[nodiscard]] int number_of(std::uint64_t id) const;
    [[nodiscard]] int count() const { return static_cast<int>(list_.size()); }

    /// Looks at what the mains did around each event that still waits for it, and at whether the
    /// unit was switched off then.
    void look_at_mains(const MainsLog& log, Seconds now, bool unit_removed);
    /// A look at the rig passed (or not): events before `at` are blamed anew.
    void rig_checked(bool passed, Seconds at);
    /// At which temperature do they come? Events of a pattern are blamed anew.
    [[nodiscard]] std::vector<std::string> find_patterns(
        const std::vector<analysis::TemperatureLogged>& log);
    /// Drops what was taken back; the decisions' numbers follow.
    void tidy(std::vector<SoakDecision>& decisions);

private:
    struct Watched {
        analysis::SoakEvent event;
        analysis::BlameFacts facts;
        int number = 0;
        bool facts_known = false;
    };
    void blame(Watched& watched);
    /// Did the timeline break right beside one of the last events?
    void look_at_slips();
    [[nodiscard]] bool slipped_beside(const analysis::SoakEvent& event) const;

    std::vector<RunEvent>& list_;
    Seconds run_base_;
    std::vector<Watched> watched_;
    std::map<std::uint64_t, std::size_t> places_;
};

}  // namespace afterload::runner
