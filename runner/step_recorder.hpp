/// Records what a step asks for: every combination of its lists at its level, each fit to judge.
#pragma once

#include "runner/acquire.hpp"
#include "runner/evaluation/evaluate.hpp"
#include "runner/evaluation/further_record.hpp"
#include "runner/level_finder.hpp"
#include "runner/load_look.hpp"
#include "runner/run.hpp"
#include "runner/step_levels.hpp"
#include "sequences/combinations.hpp"

#include <limits>
#include <map>
#include <optional>
#include <string>
#include <vector>

namespace afterload::runner {

/// Slow readings that travel with every record.
struct SlowConditions {
    double mains_volts = 0.0;                                   ///< 0: unknown
    double ambient = std::numeric_limits<double>::quiet_NaN();  ///< degrees Celsius; NaN: unknown
    double heat_sink = std::numeric_limits<double>::quiet_NaN();
};

/// A step as it is carried out: where it stands and what it leaves.
struct StepAtWork {
    const sequences::Step& step;
    StepPath path;
    SlowConditions slow;
    StepResult& result;
    std::vector<MeasuredRecord>& records;
};

class StepRecorder {
public:
    StepRecorder(const RunPlan& plan, Driver& driver, Operator& person, Progress& progress,
                 const RunFolder& folder, RunDocument& document, Seconds began)
        : plan_{plan},
          driver_{driver},
          person_{person},
          progress_{progress},
          folder_{folder},
          document_{document},
          finder_{driver},
          load_look_{driver, finder_},
          began_{began} {}

    /// Records silence, or every combination of the step's lists. What a prompt sets is set once,
    /// then loads, then channels, levels and frequencies, the last fastest.
    [[nodiscard]] instruments::Task<RunResult<void>> record(StepAtWork& work);

    /// Makes a record once more, driven as it was; the old one is superseded.
    [[nodiscard]] instruments::Task<RunResult<void>> record_again(StepAtWork& work,
                                                                  FurtherRecord further);

private:
    /// What one combination plays at the level that was found for it.
    struct Prepared {
        DrivenAs driven;
        StimulusDrive drive;
        ExpectedOutput expected{};
        Seconds whole;  ///< how long a record must be that holds all of it; 0: any part will do
    };
    instruments::Task<RunResult<void>> record_silence(StepAtWork& work);
    instruments::Task<RunResult<void>> fall_silent(StepAtWork& work);
    instruments::Task<RunResult<void>> record_combinations(StepAtWork& work);
    instruments::Task<RunResult<void>> set(StepAtWork& work, sequences::Combination combination);
    instruments::Task<RunResult<void>> turn(StepAtWork& work, Turn turn);
    instruments::Task<RunResult<LevelReached>> find_level(StepAtWork& work,
                                                          sequences::Combination combination);
    instruments::Task<RunResult<LevelReached>> exact_drive(LevelRequest request, LevelTarget target,
                                                           LevelReached found);
    /// A look at the loads where one is due.
    instruments::Task<RunResult<void>> look_at_loads(StepAtWork& work,
                                                     sequences::Combination combination,
                                                     LevelReached level);
    instruments::Task<RunResult<void>> begin(StepAtWork& work, const Prepared& made);
    instruments::Task<RunResult<void>> resume(StepAtWork& work, const DrivenAs& driven,
                                              const LevelReached& level, ExpectedOutput expected);
    instruments::Task<RunResult<void>> take_driven(StepAtWork& work, const Prepared& made,
                                                   const LevelReached& level);
    instruments::Task<RunResult<void>> take(StepAtWork& work, AcquireRequest request);

    [[nodiscard]] Prepared prepared(const StepAtWork& work,
                                    const sequences::Combination& combination,
                                    const LevelReached& level) const;
    [[nodiscard]] DrivenAs driven_as(const StepAtWork& work,
                                     const sequences::Combination& combination,
                                     const LevelReached& level) const;
    [[nodiscard]] AcquireRequest request_for(const DrivenAs& driven, Seconds length,
                                             const LevelReached& level) const;
    [[nodiscard]] RunResult<double> output_of(const LevelTarget& target, Ohms load,
                                              Channels driven) const;
    [[nodiscard]] static double highest_of(const StepAtWork& work, double found);
    [[nodiscard]] double drive_volts(const LevelTarget& target) const;
    [[nodiscard]] double limited_thd(const sequences::DistortionLimited& limited, Ohms load,
                                     Channels driven) const;
    [[nodiscard]] Seconds now() const { return driver_.bench().clock().now(); }

    const RunPlan& plan_;
    Driver& driver_;
    Operator& person_;
    Progress& progress_;
    const RunFolder& folder_;
    RunDocument& document_;
    LevelFinder finder_;
    LoadLook load_look_;
    Seconds began_;
    int set_by_hand_ = 0;
};

}  // namespace afterload::runner
