#include "instruments/one_pole.hpp"

#include <cmath>
#include <numbers>

namespace afterload::instruments {

void HighPass::set(std::size_t channel, double corner_hertz, double rate_hertz) {
    const double w = std::tan(std::numbers::pi * corner_hertz / rate_hertz);
    pole_[channel] = (1.0 - w) / (1.0 + w);
    scale_[channel] = 1.0 / (1.0 + w);
}

void HighPass::process(std::span<double> frames) {
    std::array<double, 2> in = last_in_;
    std::array<double, 2> out = last_out_;
    for (std::size_t i = 0; i + 1 < frames.size(); i += 2) {
        for (std::size_t c = 0; c < 2; ++c) {
            const double x = frames[i + c];
            out[c] = scale_[c] * (x - in[c]) + pole_[c] * out[c];
            in[c] = x;
            frames[i + c] = out[c];
        }
    }
    last_in_ = in;
    last_out_ = out;
}

void Shelf::set(std::size_t channel, double pole_hertz, double low, double high,
                double rate_hertz) {
    const double w = std::tan(std::numbers::pi * pole_hertz / rate_hertz);
    now_[channel] = (high + low * w) / (1.0 + w);
    before_[channel] = (low * w - high) / (1.0 + w);
    pole_[channel] = (1.0 - w) / (1.0 + w);
}

void Shelf::process(std::span<double> frames) {
    std::array<double, 2> state = state_;
    for (std::size_t i = 0; i + 1 < frames.size(); i += 2) {
        for (std::size_t c = 0; c < 2; ++c) {
            const double x = frames[i + c];
            const double y = now_[c] * x + state[c];
            state[c] = before_[c] * x + pole_[c] * y;
            frames[i + c] = y;
        }
    }
    state_ = state;
}

}  // namespace afterload::instruments
