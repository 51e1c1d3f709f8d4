/// What a soak does about what it sees: flag, hold, kill. A pure state machine: observations in,
/// decisions out; it drives nothing itself.
///
///            hold                    drive_off done
///   driving ------> held ------------------------------> checking --passed--> driving (once)
///      |  \           |  kill, or held again                |  failed
///      |   \ kill     v                                     v
///      |    `----> killed (until a person enters a cause)  stopped
///      `--- ended by its time, by a person, by the disk --> stopped
///
/// Software is the second line: a bimetal switch, a contactor and a smoke detector that cut the
/// mains by themselves are the first.
#pragma once

#include "analysis/quantity.hpp"
#include "analysis/soak/soak_event.hpp"
#include "analysis/soak/temperature_watch.hpp"

#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <variant>
#include <vector>

namespace afterload::analysis {

enum class Reaction { none, flag, hold, kill };
[[nodiscard]] std::string_view name(Reaction reaction);  ///< "none", "flag", "hold", "kill"

/// What limits are set on. Values are magnitudes unless a sign matters, in the unit stated.
enum class SoakQuantity {
    offset,              ///< V, magnitude
    offset_step,         ///< V, magnitude, of an offset event
    level_drift,         ///< dB, magnitude, from the reference
    level_step,          ///< dB, magnitude, of a level event
    channel_difference,  ///< dB, magnitude, against the reference
    dropout,             ///< s, of a dropout event, while it lasts too
    distortion_ratio,    ///< 1, over the baseline
    hum_rise,            ///< dB over the baseline
    noise_rise,          ///< dB over the baseline
    quiescent_ratio,     ///< 1, over the settled value
    mains_power_ratio,   ///< 1, over the expected at this drive; see also its fall
    mains_power_fall,    ///< 1, the same downwards: 0.5 is half of it gone
    mains_voltage_away,  ///< 1, magnitude, from nominal: 0.15 is 15 %
    relay_clicks,        ///< 1, unexpected ones within the last hour
    events_an_hour,      ///< 1, events with the timeline intact within the last hour
};
[[nodiscard]] std::string_view name(SoakQuantity quantity);  ///< "offset", "level_drift" ...
[[nodiscard]] std::string_view unit(SoakQuantity quantity);  ///< "V", "dB", "s" or "1"
[[nodiscard]] std::optional<SoakQuantity> soak_quantity(std::string_view name);

/// From where on what is done: at or above the value. Absent: never.
struct SoakLimit {
    std::optional<double> flag;
    std::optional<double> hold;
    std::optional<double> kill;
};
using SoakLimits = std::map<SoakQuantity, SoakLimit>;

/// The usual ones: trade practice, made for an amplifier that is left alone. Every one may be
/// overridden by a sequence.
[[nodiscard]] SoakLimits usual_limits();

/// The sequence's limits under the bench's: where both name a quantity, each reaction comes at the
/// lower of the two, so that a sequence cannot loosen what the bench states; a reaction that the
/// bench has and the sequence has not is kept.
[[nodiscard]] SoakLimits under(const SoakLimits& sequence, const SoakLimits& bench);

/// A figure that was read, in the unit of its quantity.
struct Measured {
    SoakQuantity quantity = SoakQuantity::offset;
    int channel = 0;  ///< from 1; 0: all, or none
    double value = 0.0;
};

/// What the bench and the machine around it report.
struct BenchNews {
    enum class Kind {
        capture_lost,       ///< the card is gone, or gives no samples: hold (drive off at once)
        source_lost,        ///< the source does not answer: hold
        drive_not_off,      ///< what was told to be off is not: kill
        load_open,          ///< the bimetal switch of the load opened: kill
        load_hot,           ///< the load over its stop limit: kill
        smoke,              ///< kill
        ground_fault,       ///< kill
        contactor_open,     ///< the mains contactor fell: kill (no restart by itself)
        guardian_lost,      ///< nobody would turn it off if this program died: kill
        unit_removed,       ///< level gone and mains watts near zero: stop, nothing is the unit's
        disk_full,          ///< stop after the last good record
        update_pending,     ///< the machine would restart: flag; refuse() before a start
        program_late,       ///< the watch is behind real time by more than a second: hold
        interrupted,        ///< this process found a soak that another left: stays stopped
        network_lost,       ///< nothing is done: told in the record alone
        wall_clock_jumped,  ///< nothing is done
    };
    Kind kind = Kind::capture_lost;
    std::string what;  ///< one line from whoever noticed
};
[[nodiscard]] std::string_view name(BenchNews::Kind kind);

struct DriveIsOff {};  ///< the drive has been turned off and seen to be off
struct RigChecked {
    bool passed = false;
    std::string what;
};  ///< the part that needs no hands
struct CauseEntered {
    std::string cause;
    std::string who;
};  ///< by a person, after a kill
struct PersonStops {
    std::string who;
};
struct TimeIsUp {};  ///< the soak has lasted as long as it was to
struct Tick {};      ///< time passes; anything that waits too long is told

using Observation = std::variant<SoakEvent, Measured, TemperatureFinding, BenchNews, DriveIsOff,
                                 RigChecked, CauseEntered, PersonStops, TimeIsUp, Tick>;

/// What is to be done, in this order.
struct Decision {
    enum class Kind {
        note,           ///< into the record
        flag,           ///< into the record, shown, and the capture around it kept
        drive_off,      ///< stimulus muted, at once
        mains_off,      ///< contactor open, everything off, at once
        check_rig,      ///< the part of the rig check that needs no hands
        resume,         ///< drive again, from the first small level up
        end,            ///< the soak is over: hot figures, cooling log, report
        allow_restart,  ///< a cause was entered: a new soak may be started by a person
    };
    Kind kind = Kind::note;
    Reaction reaction = Reaction::none;  ///< that brought it
    Seconds time;
    std::string because;      ///< one line: what was seen, its limit
    std::uint64_t event = 0;  ///< id of the event, 0: none
};
[[nodiscard]] std::string_view name(Decision::Kind kind);

struct ReactionSettings {
    SoakLimits limits = usual_limits();
    /// Retries of a hold in a whole soak; the next hold stops it.
    int retries = 1;
    Seconds off_within{0.5};      ///< drive_off must be answered by DriveIsOff, or it is a kill
    Seconds check_within{120.0};  ///< check_rig likewise, or the soak stops
    /// Reaction to an event of the timeline (gap, repeat, frozen): a single one is flagged, so many
    /// within ten minutes hold; frozen holds at once.
    int slips_to_hold = 3;
};

class Reactions {
public:
    enum class State { driving, held, checking, stopped, killed };

    explicit Reactions(ReactionSettings settings = {});

    /// `time` on one monotonic axis, never before the last one.
    [[nodiscard]] std::vector<Decision> observe(Seconds time, const Observation& observation);

    [[nodiscard]] State state() const { return state_; }
    /// May a person start a soak with this unit? Why not, in one line; nothing: yes.
    [[nodiscard]] std::optional<std::string> refusal() const;
    [[nodiscard]] const std::string& cause() const { return cause_; }  ///< as a person entered it
    [[nodiscard]] int retries_used() const { return retries_; }

private:
    using Decisions = std::vector<Decision>;
    void see(const SoakEvent& event, Decisions& decisions);
    void see(const Measured& measured, Decisions& decisions);
    void see(const TemperatureFinding& finding, Decisions& decisions);
    void see(const BenchNews& news, Decisions& decisions);
    void see(const DriveIsOff&, Decisions& decisions);
    void see(const RigChecked& checked, Decisions& decisions);
    void see(const CauseEntered& entered, Decisions& decisions);
    void see(const PersonStops& stops, Decisions& decisions);
    void see(const TimeIsUp&, Decisions& decisions);
    void see(const Tick&, Decisions& decisions);

    void react(Reaction reaction, const std::string& because, Decisions& decisions,
               std::uint64_t event = 0);
    void stop(const std::string& because, Decisions& decisions);
    void tell(Decision::Kind kind, Reaction reaction, const std::string& because,
              Decisions& decisions, std::uint64_t event = 0) const;
    [[nodiscard]] Reaction reaction_to(const Measured& measured, std::string& because) const;
    void check_deadlines(Decisions& decisions);

    ReactionSettings settings_;
    State state_ = State::driving;
    double now_s_ = 0.0;
    int retries_ = 0;
    std::string cause_;
    std::string why_;                     // it stopped or was killed
    std::optional<double> off_by_s_;      // DriveIsOff is due
    std::optional<double> checked_by_s_;  // RigChecked is due
    std::vector<double> slips_s_;
    std::vector<double> events_s_;
    std::map<std::uint64_t, Reaction> told_;                     // of events that last
    std::map<std::uint64_t, double> dropouts_s_;                 // that last, since when
    std::map<std::pair<SoakQuantity, int>, Reaction> standing_;  // told, until it is below again
};
[[nodiscard]] std::string_view name(Reactions::State state);

}  // namespace afterload::analysis
