/// What a soak keeps while it goes on: its result in the run's document, the journal, and records
/// of what came before and after each event.
#pragma once

#include "runner/soak/event_capture.hpp"
#include "runner/soak/soak_events.hpp"
#include "runner/soak/soak_journal.hpp"
#include "runner/soak/soak_observer.hpp"
#include "runner/soak/soak_run.hpp"
#include "runner/soak/soak_stream.hpp"
#include "runner/soak/soak_trends.hpp"

#include <optional>
#include <string>
#include <vector>

namespace afterload::runner {

/// Records of events kept in one soak; of those beyond, their figures are all there is.
inline constexpr int most_event_records = 60;

class SoakKeeper {
public:
    /// `base`: soaked in earlier segments. `work` outlives it.
    SoakKeeper(const SoakAtWork& work, Seconds base);

    /// A new segment begins.
    [[nodiscard]] RunResult<void> begin(std::vector<std::string> not_watched);
    [[nodiscard]] SoakEvents& events() { return events_; }
    [[nodiscard]] SoakTrends& trends() { return trends_; }

    void stream_begins(const SoakStream& stream);
    void stream_ends();
    void add_block(const SoakStream& stream);

    /// An event of the watch; `fresh`: its number where it is new, else 0.
    void told(const analysis::SoakEvent& event, int fresh, Seconds at);
    /// Place of the decision, for done().
    int decided(const SoakPending& pending, Seconds at);
    void done(int place, Seconds took, const std::string& what);
    void regulated(SoakRegulation moved);
    void note(const std::string& what);

    /// A minute is over: trends and document are made durable.
    [[nodiscard]] RunResult<void> minute_over(Seconds at);
    /// Whatever the document holds is made durable.
    [[nodiscard]] RunResult<void> keep();
    /// The segment is over.
    [[nodiscard]] RunResult<void> finish(const std::vector<analysis::TemperatureLogged>& log,
                                         Seconds at, const std::string& state,
                                         const std::string& why);

private:
    [[nodiscard]] StepResult& result() { return document_.steps[index_]; }
    void journal(const Json& line);
    void store(std::vector<CutOut> cuts);

    RunDocument& document_;
    std::size_t index_;
    const SoakAtWork& work_;
    Seconds base_;
    std::vector<RunEvent> list_;  ///< copied into the document whenever that is kept
    SoakEvents events_;
    SoakTrends trends_;
    std::optional<SoakJournal> journal_;
    std::optional<EventCapture> capture_;
    Seconds watched_;
    Seconds watched_before_;
    int records_ = 0;
    std::string trouble_;  ///< of the disk: said at the next chance
};

}  // namespace afterload::runner
