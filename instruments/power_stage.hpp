/// The output stage of both channels: curvature of the voltage amplifier, clipping at the rails,
/// crossover of the output pairs reduced by feedback, slew limit, upper corner.
///
/// Feedback divides what the output pair adds by 1 + A(s), with a loop gain A that is flat to 1 kHz
/// and falls 20 dB a decade above: the error passes a first-order high shelf, which at an internal
/// rate near 384 kHz is a difference of two samples (its pole, the unity-gain frequency, lies at
/// the end of the band; off by 1 % at 20 kHz).
#pragma once

#include "instruments/clipper.hpp"
#include "instruments/odd_table.hpp"
#include "instruments/supply.hpp"
#include "instruments/unit_parameters.hpp"

#include <array>
#include <span>
#include <vector>

namespace afterload::instruments {

/// What the stages behind and the supply need to know of a block.
struct PowerDrawn {
    RailCurrents mean;                   ///< both channels together
    std::array<double, 2> load_watts{};  ///< into the load of each channel
    std::array<double, 2> sink_watts{};  ///< into each heat-sink, without idle
};

class PowerStage {
public:
    explicit PowerStage(double rate_hertz);

    /// Takes over the specimen's numbers; `loop_ohms` is the whole resistance that the output
    /// current flows through, infinity without a load.
    void set(const UnitParameters& unit, const std::array<double, 2>& loop_ohms);
    /// Heat has moved the bias.
    void set_bias(const UnitParameters& unit, const std::array<double, 2>& emitter_volts);
    void set_offset(const std::array<double, 2>& volts) { offset_ = volts; }

    /// `in`: volts that the output should make, interleaved; `out`: what it makes before output and
    /// contact resistance, one frame later; may be `in`. `limits` are those at the block's end.
    void process(std::span<const double> in, const ClipLimits& limits, std::span<double> out);

    /// Of the last block; `rails` are the rail volts during it, positive and negative.
    [[nodiscard]] PowerDrawn drawn(const std::array<double, 2>& rails) const;

private:
    void slew(std::span<double> frames);
    void crossover(std::span<const double> frames, std::span<double> out);

    double rate_;
    std::array<double, 2> second_{};
    std::array<double, 2> third_{};
    std::array<double, 2> offset_{};
    std::array<double, 2> conductance_{};  ///< 1 / loop_ohms
    std::array<double, 2> loop_ohms_{};
    std::array<double, 2> load_share_{};
    std::array<double, 2> slew_step_{};  ///< volts a sample; 0: never
    std::array<double, 2> slew_follow_{};
    std::array<double, 2> slewed_{};
    std::array<OddTable, 2> lost_;        ///< scaled by the shelf's gain
    std::array<double, 2> table_bias_{};  ///< emitter volts the tables were made for
    std::array<double, 2> shelf_zero_{};
    std::array<double, 2> top_late_{};   ///< share of the sample before: the upper corner
    std::array<double, 2> sum_above_{};  ///< of the last block, volts · frames
    std::array<double, 2> sum_below_{};
    std::array<double, 2> sum_square_{};
    std::size_t frames_ = 1;
    Clipper clipper_;
    // Each with one frame of the last block in front of this block's.
    std::vector<double> lost_volts_;  ///< what the pairs lose
    std::vector<double> inside_;      ///< output before the upper corner
    std::vector<double> work_;        ///< curved, then clipped
};

}  // namespace afterload::instruments
