/// What is well formed but wrong across files: a sequence held against the unit's rating sheet and
/// the bench it is to run on. Nothing is driven before this finds nothing.
#pragma once

#include "analysis/rating.hpp"
#include "sequences/bench_file.hpp"
#include "sequences/diagnostic.hpp"
#include "sequences/sequence.hpp"

#include <tl/expected.hpp>

#include <optional>
#include <string>
#include <vector>

namespace afterload::sequences {

/// The power that `rated` means at a step.
struct RatedPower {
    Watts power;
    std::string id;             ///< of the rated figure
    std::optional<double> thd;  ///< ratio at which the power is stated, where it is
};

/// Why `rated` means nothing at a step.
struct NoRatedPower {
    enum class Why { none_fits, several_fit };
    Why why = Why::none_fits;
    std::vector<std::string> ids;  ///< those that fit, when several do
    std::string what;              ///< one line, with what to do
};

/// The power rating that fits a load and the channels driven.
///
/// A rating fits when its load is within 5 % of `load` or not stated, and its channels driven are
/// `driven` or not stated. With one channel driven a rating for both driven serves where no other
/// fits: a unit that delivers it with both can deliver it with one. Of several that fit, a rating
/// that states its load wins over one that does not; several that state the same power are one.
[[nodiscard]] tl::expected<RatedPower, NoRatedPower> rated_power(const RatingSheet& sheet,
                                                                 Ohms load, Channels driven);

/// What stands on the unit where a step asks for a load of about `asked`, or for none by name: the
/// lowest resistance of the bench's loads of that kind, or of its first. 8 ohm where it has none.
[[nodiscard]] Ohms load_on(const BenchFile& bench, std::optional<Ohms> asked);

/// Most that a level asks of the output, into `load`. `rated` is the power that "rated" means.
/// Absent where a drive level leaves the output open.
[[nodiscard]] std::optional<VoltsRms> output_asked(const StepLevel& level, Ohms load, Watts rated);

struct ReviewSettings {
    std::string stage = "repaired";  ///< as_received, repaired, soaked, cold
    bool power_as_received = false;  ///< the person allows more than 1 W at stage as_received
};

/// Everything in `sequence` that this unit or this bench cannot do or must not be asked for:
/// a rated figure that the sheet lacks; `rated` where no power rating or two fit; a load over its
/// watts; a range over its volts; the limits of the house; a bridged output with a sense that is
/// grounded; a range, load, input or output that is not there; more than 1 W at stage as_received.
///
/// `sheet` is the unit's own with the house sheet laid under it. Empty when all is well; each
/// mistake stands at its step in the sequence and says what to do.
[[nodiscard]] Diagnostics review(const RatingSheet& sheet, const BenchFile& bench,
                                 const Sequence& sequence, const ReviewSettings& settings = {});

}  // namespace afterload::sequences
