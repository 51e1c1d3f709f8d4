/// A soak as it stands in memory: what a step that drove for hours left beside its events, records
/// and readings.
#pragma once

#include "analysis/quantity.hpp"

#include <optional>
#include <string>
#include <vector>

namespace afterload::runner {

/// The yes that a soak was given at its start.
struct SoakConsent {
    bool stays = false;     ///< somebody stays with it
    std::string reachable;  ///< who can be reached, as typed in; empty where somebody stays
    Seconds duration;       ///< that the yes was given for
    std::string answered;   ///< RFC 3339, UTC
    std::vector<std::string> cautions;  ///< as they were shown
};

/// A stretch driven by one process: `continue` adds another.
struct SoakSegment {
    std::string started;  ///< RFC 3339, UTC
    std::string ended;
    Seconds from;  ///< on the soak's own time: only what was soaked counts
    Seconds to;
    std::string end;  ///< "running", "finished", "stopped", "killed"
    std::string why;  ///< one line; empty for a segment that finished
    SoakConsent consent;
};

/// The drive was moved.
struct SoakRegulation {
    Seconds at;
    double change_db = 0.0;
    double drive_left_volts = 0.0;  ///< behind it, open circuit, rms
    double drive_right_volts = 0.0;
    std::string why;
};

struct SoakTrendPoint {
    Seconds at;  ///< middle of the stretch
    double mean = 0.0;
    double low = 0.0;
    double high = 0.0;
};

/// One quantity against the soak's time, a point a minute.
struct SoakTrend {
    std::string quantity;  ///< "heat_sink", "level_drift", "thd"
    int channel = 0;       ///< from 1; 0: none
    std::string unit;      ///< "degC", "dB", "1", "V", "W"
    std::vector<SoakTrendPoint> points;
    std::optional<double> flag;  ///< where it is flagged, upwards
    std::optional<double> flag_low;
    std::string verdict;  ///< of analysis::Trend: "stable"; empty before the end
    std::string what;     ///< its line
};

/// What was decided, and carried out.
struct SoakDecision {
    Seconds at;
    std::string what;      ///< "flag", "drive_off", "mains_off", "check_rig", "resume", "end"
    std::string reaction;  ///< "none", "flag", "hold", "kill"
    std::string because;
    int event = 0;     ///< number of the event on the sheet; 0: none
    Seconds took;      ///< until the bench had done it
    std::string done;  ///< what the bench answered; empty: nothing was asked of it
};

/// One soak.
struct SoakResult {
    std::string level;   ///< "1/8 rated"
    std::string signal;  ///< "sine", "pink_noise", "file"
    Seconds planned;
    Seconds lasted;                 ///< of it so far, all segments together
    Seconds watched;                ///< of the signal that was computed and looked at
    std::string state = "running";  ///< as of the last segment
    std::string why;
    bool killed = false;
    std::string cause;  ///< that a person entered after a kill
    std::string cause_by;
    std::vector<SoakSegment> segments;
    std::vector<SoakRegulation> regulations;
    std::vector<SoakTrend> trends;
    std::vector<SoakDecision> decisions;
    std::vector<std::string> patterns;     ///< at which temperature events come, in words
    std::vector<std::string> not_watched;  ///< quantities that no meter of the bench reads
};

}  // namespace afterload::runner
