#include "instruments/amplifier_model.hpp"

#include "instruments/white_noise.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

namespace afterload::instruments {

namespace {

constexpr double input_ohms = 47e3;
constexpr double lowest_inner_rate = 350e3;
constexpr double attenuation = 116.0;  // dB, of the rate changers
constexpr double common_of_output =
    0.5;  // share of the output resistance before the speaker switch

/// Rate changes between twice the card's rate and the inner rate.
std::vector<double> passbands(double card_rate) {
    std::vector<double> bands;
    double rate = 2.0 * card_rate;
    while (rate < lowest_inner_rate) {
        bands.push_back(0.5 * card_rate / (2.0 * rate) * 1.05);
        rate *= 2.0;
    }
    return bands;
}

double inner_rate(double card_rate) {
    return 2.0 * card_rate * std::exp2(static_cast<double>(passbands(card_rate).size()));
}

double volume_gain(const UnitControls& controls, const ChannelParameters& channel) {
    if (controls.volume_zero) {
        return 0.0;
    }
    const double mark = controls.volume_decibels;
    const double error = channel.volume_error_decibels * mark / -20.0;
    return amplitude_ratio(Gain{mark + error}).in<AmplitudeRatio>();
}

}  // namespace

InnerToFront::InnerToFront(double card_rate) {
    for (const double passband : passbands(card_rate)) {
        down_.emplace(down_.begin(), half_band_taps(passband, attenuation));
    }
}

void InnerToFront::process(std::span<double> inner, std::span<double> front) {
    std::span<double> now = inner;
    for (std::size_t k = 0; k < down_.size(); ++k) {
        std::span<double> next = front;
        if (k + 1 < down_.size()) {
            between_[k % 2].resize(now.size() / 2);
            next = between_[k % 2];
        }
        down_[k].process(now, next);
        now = next;
    }
    if (down_.empty()) {
        std::copy(inner.begin(), inner.end(), front.begin());
    }
}

AmplifierModel::AmplifierModel(double card_rate, double mains_hertz)
    : card_rate_{card_rate},
      front_rate_{2.0 * card_rate},
      inner_rate_{inner_rate(card_rate)},
      mains_hertz_{mains_hertz},
      phono_{inner_rate_},
      switches_{inner_rate_},
      tone_{inner_rate_},
      power_{inner_rate_} {
    for (const double passband : passbands(card_rate)) {
        up_.emplace_back(half_band_taps(passband, attenuation));
    }
}

void AmplifierModel::set(const UnitParameters& unit, const UnitControls& controls,
                         const std::array<double, 2>& load_ohms, double source_ohms) {
    unit_ = unit;
    controls_ = controls;
    const bool of_b = controls.output == UnitOutput::speaker_b;
    const bool speakers = of_b || controls.output == UnitOutput::speaker_a;
    sensed_ = !speakers || controls.speakers == SpeakerSwitch::both ||
              controls.speakers == (of_b ? SpeakerSwitch::b : SpeakerSwitch::a);
    load_ohms_.fill(std::numeric_limits<double>::infinity());
    if (speakers && sensed_) {
        load_ohms_ = load_ohms;
    }
    for (std::size_t c = 0; c < 2; ++c) {
        const ChannelParameters& channel = unit.channels[c];
        const double input = input_ohms / (input_ohms + source_ohms);
        volume_gain_[c] = channel.line_gain * volume_gain(controls, channel) * channel.output_gain;
        front_gain_[c] = input * (controls.phono ? 1.0 : volume_gain_[c]);
        crosstalk_[c] =
            channel.crosstalk / (2.0 * std::sin(std::numbers::pi * 1000.0 / front_rate_));
        bleed_[c] = channel.bleed;
        coupling_.set(c, channel.coupling_hertz, front_rate_);
        feedback_.set(c, channel.feedback_hertz, front_rate_);
    }
    phono_.set(unit);
    switches_.set(controls);
    tone_.set(unit, controls);
    relay_.set(
        unit, load_ohms_,
        controls.speakers == SpeakerSwitch::both ? of_b : controls.speakers == SpeakerSwitch::b);
    stage_ohms_ = relay_.loop_ohms();
    common_share_.fill(1.0);
    // A second pair of loads as large hangs on the other set.
    if (controls.speakers == SpeakerSwitch::both && speakers) {
        for (std::size_t c = 0; c < 2; ++c) {
            const double common = common_of_output * unit.channels[c].output_ohms_a;
            common_share_[c] = 1.0 / (1.0 + common / stage_ohms_[c]);
            stage_ohms_[c] *= 0.5;
        }
    }
    power_.set(unit, stage_ohms_);
}

void AmplifierModel::set_heat(const Heat& heat) {
    std::array<double, 2> bias{};
    std::array<double, 2> offset{};
    for (std::size_t c = 0; c < 2; ++c) {
        bias[c] = heat.emitter_volts(unit_.channels[c], c);
        offset[c] = heat.offset_volts(unit_.channels[c], c);
    }
    power_.set_bias(unit_, bias);
    power_.set_offset(offset);
}

void AmplifierModel::set_mains(double relative, double hertz) {
    mains_ = relative;
    mains_hertz_ = hertz;
}

void AmplifierModel::process(std::span<double> input, std::span<double> terminals) {
    if (!controls_.looped) {
        front(input);
    }
    std::span<double> now = input;
    for (std::size_t k = 0; k < up_.size(); ++k) {
        std::span<double> next = terminals;
        if (k + 1 < up_.size()) {
            between_[k % 2].resize(2 * now.size());
            next = between_[k % 2];
        }
        up_[k].process(now, next);
        now = next;
    }
    if (up_.empty()) {
        std::copy(input.begin(), input.end(), terminals.begin());
    }
    if (controls_.looped) {
        return;
    }
    if (controls_.phono) {
        phono_.process(terminals);
        for (std::size_t i = 0; i + 1 < terminals.size(); i += 2) {
            terminals[i] *= volume_gain_[0];
            terminals[i + 1] *= volume_gain_[1];
        }
    }
    if (switches_.active()) {
        switches_.process(terminals);
    }
    if (!controls_.direct) {
        tone_.process(terminals);
    }
    output_stage(terminals);
}

// Coupling capacitors, volume and what leaks from one channel into the other.
void AmplifierModel::front(std::span<double> frames) {
    coupling_.process(frames);
    feedback_.process(frames);
    std::array<double, 2> last = last_front_;
    for (std::size_t i = 0; i + 1 < frames.size(); i += 2) {
        const double left = frames[i];
        const double right = frames[i + 1];
        frames[i] = front_gain_[0] * (left + crosstalk_[0] * (right - last[1]) + bleed_[0] * right);
        frames[i + 1] =
            front_gain_[1] * (right + crosstalk_[1] * (left - last[0]) + bleed_[1] * left);
        last = {left, right};
    }
    last_front_ = last;
}

ClipLimits AmplifierModel::limits() const {
    const std::array<double, 2> ripple = supply_.ripple(mains_hertz_, unit_.supply);
    ClipLimits limits;
    for (std::size_t c = 0; c < 2; ++c) {
        const std::array<double, 2> rail = rails(c);
        const double lost = unit_.supply.lost_volts;
        const double by_current = unit_.channels[c].current_limit * stage_ohms_[c];
        limits.upper[c] = std::min(std::max(0.1, rail[0] - 0.5 * ripple[0] - lost), by_current);
        limits.lower[c] = -std::min(std::max(0.1, rail[1] - 0.5 * ripple[1] - lost), by_current);
    }
    return limits;
}

void AmplifierModel::output_stage(std::span<double> frames) {
    const bool pre_out = controls_.output == UnitOutput::pre_out;
    if (pre_out) {
        pre_out_.assign(frames.begin(), frames.end());
    }
    for (std::size_t c = 0; c < 2; ++c) {
        for (std::size_t i = c; !controls_.joined[c] && i < frames.size(); i += 2) {
            frames[i] = 0.0;
        }
    }
    const double seconds = 0.5 * static_cast<double>(frames.size()) / inner_rate_;
    power_.process(frames, limits(), frames);
    const PowerDrawn drawn = power_.drawn(supply_.rails(mains_, unit_.supply));
    supply_.advance(seconds, drawn.mean);
    seconds_ += seconds;
    for (std::size_t c = 0; c < 2; ++c) {
        double share = std::isfinite(load_ohms_[c]) ? load_ohms_[c] / relay_.loop_ohms()[c] : 0.0;
        share *= stage_ohms_[c] < relay_.loop_ohms()[c] ? 0.5 : 1.0;
        energy_.load_watts[c] += seconds * drawn.load_watts[c] * share;
        energy_.sink_watts[c] += seconds * (drawn.sink_watts[c] + unit_.channels[c].idle_watts);
    }
    if (pre_out) {
        for (std::size_t i = 0; i < frames.size(); ++i) {
            frames[i] = pre_out_[i] / unit_.power_gain;
        }
    } else if (!sensed_) {
        std::fill(frames.begin(), frames.end(), 0.0);
    } else if (controls_.output != UnitOutput::headphone) {
        relay_.process(frames);
        for (std::size_t c = 0; c < 2; ++c) {
            for (std::size_t i = c; common_share_[c] < 1.0 && i < frames.size(); i += 2) {
                frames[i] *= common_share_[c];
            }
        }
    }
}

ResidualState AmplifierModel::residual_state() const {
    ResidualState state;
    for (std::size_t c = 0; c < 2; ++c) {
        const ChannelParameters& channel = unit_.channels[c];
        double share = std::isfinite(load_ohms_[c]) ? load_ohms_[c] / relay_.loop_ohms()[c] : 1.0;
        double own = channel.noise_volts;
        if (controls_.output == UnitOutput::pre_out) {
            share = 1.0 / unit_.power_gain;
            own *= 0.3;  // the output stage's own noise is not there
        }
        if (!sensed_ || controls_.looped) {
            share = 0.0;
        }
        const bool plain = controls_.direct && !controls_.phono && !switches_.active();
        const double before = plain ? channel.input_noise_volts * volume_gain_[c] : 0.0;
        state.noise_sigma[c] = share * white_sigma(std::hypot(own, before), card_rate_);
        state.terminal_share[c] = share;
    }
    const std::array<double, 2> ripple = supply_.ripple(mains_hertz_, unit_.supply);
    const std::array<double, 2> rail = supply_.rails(mains_, unit_.supply);
    state.ripple_volts = controls_.looped ? 0.0 : 0.5 * (ripple[0] + ripple[1]);
    state.rail_volts = std::max(1.0, 0.5 * (rail[0] + rail[1]));
    return state;
}

std::array<double, 2> AmplifierModel::input_noise_sigma() const {
    std::array<double, 2> sigma{};
    if (controls_.looped || (controls_.direct && !controls_.phono && !switches_.active())) {
        return sigma;
    }
    for (std::size_t c = 0; c < 2; ++c) {
        const ChannelParameters& channel = unit_.channels[c];
        sigma[c] = white_sigma(controls_.phono ? channel.phono_noise : channel.input_noise_volts,
                               card_rate_);
    }
    return sigma;
}

MeanPower AmplifierModel::take_mean_power() {
    MeanPower mean;
    for (std::size_t c = 0; c < 2 && seconds_ > 0.0; ++c) {
        mean.load_watts[c] = energy_.load_watts[c] / seconds_;
        mean.sink_watts[c] = energy_.sink_watts[c] / seconds_;
    }
    energy_ = {};
    seconds_ = 0.0;
    return mean;
}

std::array<double, 2> AmplifierModel::rails(std::size_t channel) const {
    const std::array<double, 2> rail = supply_.rails(mains_, unit_.supply);
    const double open = mains_ * unit_.supply.unloaded_volts;
    const ChannelParameters& one = unit_.channels[channel];
    return {rail[0] + open * (one.positive_rail - 1.0), rail[1] + open * (one.negative_rail - 1.0)};
}

}  // namespace afterload::instruments
