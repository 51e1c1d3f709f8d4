#include "instruments/power_stage.hpp"

#include "instruments/class_ab.hpp"
#include "instruments/wide.hpp"

#include <algorithm>
#include <cmath>
#include <cstring>
#include <limits>
#include <numbers>

namespace afterload::instruments {

namespace {

constexpr double loop_corner_hertz = 1000.0;

/// Share p of the sample before such that |1 − p + p·exp(−jw)|² is a half at `corner_hertz`; an
/// upper corner beyond what two samples can make becomes their mean.
double late_share(double corner_hertz, double rate_hertz) {
    const double drop = 1.0 - std::cos(2.0 * std::numbers::pi * corner_hertz / rate_hertz);
    const double product = 0.25 / drop;  // p·(1 − p)
    return product >= 0.25 ? 0.5 : 0.5 - std::sqrt(0.25 - product);
}

/// x + second·x² + third·x³ + offset.
AFTERLOAD_WIDE
void curve(const double* in, double* out, std::size_t frames, const double* second,
           const double* third, const double* offset) {
    const Wide b{second[0], second[1], second[0], second[1]};
    const Wide c{third[0], third[1], third[0], third[1]};
    const Wide a{offset[0], offset[1], offset[0], offset[1]};
    std::size_t i = 0;
    for (; i + 2 <= frames; i += 2) {
        Wide x;
        std::memcpy(&x, in + 2 * i, sizeof x);
        const Wide y = x + a + x * x * (b + c * x);
        std::memcpy(out + 2 * i, &y, sizeof y);
    }
    for (; i < frames; ++i) {
        for (std::size_t k = 0; k < 2; ++k) {
            const double x = in[2 * i + k];
            out[2 * i + k] = x + offset[k] + x * x * (second[k] + third[k] * x);
        }
    }
}

/// Sums of max(x, 0), of max(−x, 0) and of x², left and right.
AFTERLOAD_WIDE
void sums(const double* frames, std::size_t count, double* above, double* below, double* square) {
    Wide up{};
    Wide down{};
    Wide power{};
    const Wide zero{};
    std::size_t i = 0;
    for (; i + 2 <= count; i += 2) {
        Wide x;
        std::memcpy(&x, frames + 2 * i, sizeof x);
        up += x > zero ? x : zero;
        down += x < zero ? -x : zero;
        power += x * x;
    }
    for (std::size_t c = 0; c < 2; ++c) {
        above[c] = up[c] + up[c + 2];
        below[c] = down[c] + down[c + 2];
        square[c] = power[c] + power[c + 2];
        if (i < count) {
            const double x = frames[2 * i + c];
            above[c] += std::max(x, 0.0);
            below[c] += std::max(-x, 0.0);
            square[c] += x * x;
        }
    }
}

/// What one channel's pair (every second element) loses at the current that `in` volts drive.
AFTERLOAD_WIDE
void look_up(const OddTable& lost, double conductance, const double* in, double* out,
             std::size_t frames) {
    for (std::size_t i = 0; i < frames; ++i) {
        out[2 * i] = lost(conductance * in[2 * i]);
    }
}

/// y[n] = x[n] − (lost[n] − zero · lost[n − 1]); out[n] = y[n] + late · (y[n − 1] − y[n]). `lost`
/// and `y` have one frame of the last block in front. Both channels.
AFTERLOAD_WIDE
void feed_back(const double* x, const double* lost, double* y, double* out, std::size_t frames,
               const double* zero, const double* late) {
    const Wide z{zero[0], zero[1], zero[0], zero[1]};
    const Wide l{late[0], late[1], late[0], late[1]};
    std::size_t i = 0;
    for (; i + 2 <= frames; i += 2) {
        Wide in;
        Wide now;
        Wide before;
        Wide y_before;
        std::memcpy(&in, x + 2 * i, sizeof in);
        std::memcpy(&now, lost + 2 * i + 2, sizeof now);
        std::memcpy(&before, lost + 2 * i, sizeof before);
        const Wide y_now = in - (now - z * before);
        std::memcpy(y + 2 * i + 2, &y_now, sizeof y_now);
        std::memcpy(&y_before, y + 2 * i, sizeof y_before);
        const Wide result = y_now + l * (y_before - y_now);
        std::memcpy(out + 2 * i, &result, sizeof result);
    }
    for (; i < frames; ++i) {
        for (std::size_t c = 0; c < 2; ++c) {
            const double y_now = x[2 * i + c] - (lost[2 * i + 2 + c] - zero[c] * lost[2 * i + c]);
            y[2 * i + 2 + c] = y_now;
            out[2 * i + c] = y_now + late[c] * (y[2 * i + c] - y_now);
        }
    }
}

}  // namespace

PowerStage::PowerStage(double rate_hertz)
    : rate_{rate_hertz}, lost_volts_(2, 0.0), inside_(2, 0.0), work_(2, 0.0) {}

void PowerStage::set(const UnitParameters& unit, const std::array<double, 2>& loop_ohms) {
    const double peak = unit.rated_peak_volts;
    for (std::size_t c = 0; c < 2; ++c) {
        const ChannelParameters& channel = unit.channels[c];
        second_[c] = channel.second / peak;
        third_[c] = channel.third / (peak * peak);
        loop_ohms_[c] = loop_ohms[c];
        conductance_[c] = 1.0 / loop_ohms[c];
        top_late_[c] = late_share(channel.top_hertz, rate_);
        const double step = channel.slew_volts_per_second / rate_;
        if (step > 0.0 && slew_step_[c] == 0.0) {
            slewed_[c] = work_[work_.size() - 2 + c];
        }
        slew_step_[c] = step;
        slew_follow_[c] = -std::expm1(-2.0 * std::numbers::pi * channel.top_hertz / rate_);
        shelf_zero_[c] = std::exp(-2.0 * std::numbers::pi * loop_corner_hertz / rate_);
    }
}

void PowerStage::set_bias(const UnitParameters& unit, const std::array<double, 2>& emitter_volts) {
    for (std::size_t c = 0; c < 2; ++c) {
        const double wanted = std::max(emitter_volts[c], 1e-5);
        if (std::abs(wanted - table_bias_[c]) < 0.005 * wanted) {
            continue;
        }
        const ChannelParameters& channel = unit.channels[c];
        OutputPair pair;
        pair.emitter_ohms = channel.emitter_ohms;
        pair.quiescent_amperes = wanted / channel.emitter_ohms;
        // Gain at zero frequency is 1 / (1 + A); the difference of two samples has 1 − zero.
        const double scale = 1.0 / ((1.0 + channel.loop_gain) * (1.0 - shelf_zero_[c]));
        lost_[c] = crossover_table(pair, scale);
        table_bias_[c] = wanted;
    }
}

void PowerStage::process(std::span<const double> in, const ClipLimits& limits,
                         std::span<double> out) {
    const std::size_t frames = in.size() / 2;
    work_.resize(2 + 2 * frames);
    curve(in.data(), work_.data() + 2, frames, second_.data(), third_.data(), offset_.data());
    const std::span<double> work{work_};
    if (slew_step_[0] > 0.0 || slew_step_[1] > 0.0) {
        slew(work.subspan(2));
    }
    clipper_.process(work, limits);
    crossover(work.first(2 * frames), out);
    sums(work_.data(), frames, sum_above_.data(), sum_below_.data(), sum_square_.data());
    frames_ = frames;
    std::copy_n(work_.end() - 2, 2, work_.begin());
}

// An integrator behind a stage that gives at most so much current: the output follows the input as
// a one-pole does while the difference is small, and at most by `step` a sample.
void PowerStage::slew(std::span<double> frames) {
    for (std::size_t c = 0; c < 2; ++c) {
        if (!(slew_step_[c] > 0.0)) {
            continue;
        }
        const double scale = slew_follow_[c] / slew_step_[c];
        double y = slewed_[c];
        for (std::size_t i = c; i < frames.size(); i += 2) {
            const double u = std::clamp(scale * (frames[i] - y), -1.5, 1.5);
            y += slew_step_[c] * u * (1.0 - (4.0 / 27.0) * u * u);
            frames[i] = y;
        }
        slewed_[c] = y;
    }
}

void PowerStage::crossover(std::span<const double> frames, std::span<double> out) {
    const std::size_t size = frames.size();
    lost_volts_.resize(2 + size);
    inside_.resize(2 + size);
    for (std::size_t c = 0; c < 2; ++c) {
        look_up(lost_[c], conductance_[c], frames.data() + c, lost_volts_.data() + 2 + c, size / 2);
    }
    feed_back(frames.data(), lost_volts_.data(), inside_.data(), out.data(), size / 2,
              shelf_zero_.data(), top_late_.data());
    std::copy_n(lost_volts_.end() - 2, 2, lost_volts_.begin());
    std::copy_n(inside_.end() - 2, 2, inside_.begin());
}

PowerDrawn PowerStage::drawn(const std::array<double, 2>& rails) const {
    PowerDrawn drawn;
    const auto count = static_cast<double>(frames_);
    for (std::size_t c = 0; c < 2; ++c) {
        const double above = sum_above_[c] * conductance_[c] / count;
        const double below = sum_below_[c] * conductance_[c] / count;
        const double out = sum_square_[c] * conductance_[c] / count;
        drawn.mean.positive += above;
        drawn.mean.negative += below;
        drawn.load_watts[c] = out;
        drawn.sink_watts[c] = std::max(0.0, above * rails[0] + below * rails[1] - out);
    }
    return drawn;
}

}  // namespace afterload::instruments
