/// What the rig did over the months, told by a golden box: a small network that does not change,
/// and that is measured now and then in the place of a unit.
#pragma once

#include "analysis/figure.hpp"

#include <optional>
#include <vector>

namespace afterload::analysis {

/// What the golden box read on a day.
struct GoldenReading {
    double day = 0.0;    ///< on any calendar of whole days and parts of them
    double value = 0.0;  ///< in the figure's unit
};

/// The drift of a rig as far as one figure of a golden box tells it.
class RigDrift {
public:
    /// How the rig read on `day`, re its own middle over all readings of the box: a factor for
    /// volts, watts, ohms and hertz, a difference for decibels. Between two readings along a
    /// straight line, before the first and after the last as on that day.
    [[nodiscard]] double at(double day) const;
    /// `value`, read on `day`, as the rig of that middle would have read it.
    [[nodiscard]] double taken_off(double value, double day) const;
    /// Largest less smallest reading of the box, re its middle: a ratio, or decibels.
    [[nodiscard]] double range() const;

private:
    friend std::optional<RigDrift> rig_drift(FigureKind kind, std::vector<GoldenReading> readings);
    struct Knot {
        double day;
        double part;
    };
    std::vector<Knot> knots_;
    bool ratio_ = true;
};

/// Fewest readings of a golden box that make a drift: two would be a line through whatever noise
/// they have.
inline constexpr std::size_t fewest_golden_readings = 3;

/// The drift that `readings` of one figure tell.
///
/// Only what scales with the rig's calibration carries over to another unit: volts, watts, gain,
/// balance, response, sensitivity. Of a distortion, a noise or a separation the rig's part is its
/// own residual, whose sign against another unit's is not known: the box tells how much it moved,
/// and nothing may be taken off a reading for it.
///
/// Fails   (nothing) for fewer than fewest_golden_readings, a kind that does not carry over, or a
///         middle of zero where a factor is due.
[[nodiscard]] std::optional<RigDrift> rig_drift(FigureKind kind,
                                                std::vector<GoldenReading> readings);

}  // namespace afterload::analysis
