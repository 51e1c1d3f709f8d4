/// What the units of a model read, figure by figure, and where one of them stands.
#pragma once

#include "analysis/population.hpp"
#include "runner/record/run_index.hpp"

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

namespace afterload::runner {

/// One unit among the others.
struct PlacedUnit {
    double value = 0.0;  ///< as the other readings, less what the rig drifted
    std::optional<Bound::Side> bound;
    double below = 0.0;       ///< how many of the others read less; one that equals it is half
    bool stands_out = false;  ///< analysis::stands_out()
    std::string run;          ///< id of the run that read it
};

/// A figure over the units.
struct StatisticRow {
    FigurePoint point;
    analysis::Population among;      ///< without the unit that is placed
    double u_k1 = 0.0;               ///< of a reading: the middle of theirs
    std::optional<double> spread;    ///< distance of the quartiles as read, drift of the rig in it
    std::size_t golden = 0;          ///< readings of the golden box
    std::optional<double> drift;     ///< largest less smallest of the rig; relative, or decibels
    bool taken_off = false;          ///< the readings are less that drift
    std::optional<PlacedUnit> unit;  ///< of `serial`
};

struct ModelStatistics {
    std::string maker;
    std::string model;
    std::string serial;  ///< of the unit that is placed; empty: none
    std::string stage;   ///< as asked
    std::string golden;  ///< serial of the golden box; empty: none
    std::size_t units = 0;
    std::size_t runs = 0;            ///< that their readings came from
    std::size_t without_serial = 0;  ///< runs that belong to nobody knows which unit: left out
    std::size_t golden_runs = 0;
    std::vector<StatisticRow> rows;  ///< in the order of a sheet
};

/// The statistics of the runs `of_model`, which are of one model.
///
/// Each unit counts once a figure, by its last reading at `stage`, or as repaired, soaked or cold
/// where that is empty: a unit that came in faulty says nothing of the model. Where a unit is
/// placed only figures that it has are given, else those of two units and more.
///
/// `golden` holds the runs of the golden box, if any: readings of what scales with the rig
/// (analysis::rig_drift) are taken less the drift that the box shows on the same bench.
[[nodiscard]] ModelStatistics model_statistics(const FoundReadings& of_model,
                                               const FoundReadings& golden,
                                               const std::string& serial, const std::string& stage);

}  // namespace afterload::runner
