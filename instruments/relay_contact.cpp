#include "instruments/relay_contact.hpp"

#include "instruments/wide.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace afterload::instruments {

namespace {

/// The nonlinear part of one contact in a loop.
struct Contact {
    double loop_ohms;  ///< everything linear
    double load_ohms;
    double cubic;  ///< ohms a square ampere
    double film_ohms;
    double film_volts;

    [[nodiscard]] double volts(double amperes) const {
        double drop = cubic * amperes * amperes * amperes;
        if (film_ohms > 0.0 && film_volts > 0.0) {
            drop += film_volts * std::tanh(amperes * film_ohms / film_volts);
        }
        return drop;
    }
    /// Current that `output` volts drive: bisection, since the drop rises with the current.
    [[nodiscard]] double amperes(double output) const {
        double low = 0.0;
        double high = output / loop_ohms;
        for (int i = 0; i < 60; ++i) {
            const double middle = 0.5 * (low + high);
            (middle * loop_ohms + volts(middle) < output ? low : high) = middle;
        }
        return 0.5 * (low + high);
    }
};

AFTERLOAD_WIDE
void scale_frames(double* frames, std::size_t count, double left, double right) {
    for (std::size_t i = 0; i < count; ++i) {
        frames[2 * i] *= left;
        frames[2 * i + 1] *= right;
    }
}

}  // namespace

void RelayContact::set(const UnitParameters& unit, const std::array<double, 2>& load_ohms,
                       bool set_b) {
    for (std::size_t c = 0; c < 2; ++c) {
        const ChannelParameters& channel = unit.channels[c];
        const double series =
            set_b ? channel.output_ohms_b : channel.output_ohms_a + channel.contact_ohms;
        bent_[c] = false;
        if (!std::isfinite(load_ohms[c])) {
            share_[c] = 1.0;
            loop_ohms_[c] = std::numeric_limits<double>::infinity();
            continue;
        }
        loop_ohms_[c] = load_ohms[c] + series;
        share_[c] = load_ohms[c] / loop_ohms_[c];
        Contact contact{loop_ohms_[c], load_ohms[c], channel.contact_ohms * channel.contact_cubic,
                        channel.film_ohms, channel.film_volts};
        if (set_b || (contact.cubic == 0.0 && contact.film_ohms == 0.0)) {
            continue;
        }
        bent_[c] = true;
        const auto missing = [&contact](double output) {
            return (output / contact.loop_ohms - contact.amperes(output)) * contact.load_ohms;
        };
        const double fine = contact.film_volts > 0.0
                                ? 0.2 * contact.film_volts * loop_ohms_[c] / contact.film_ohms
                                : 0.05 * unit.rated_peak_volts;
        missing_[c] = OddTable{missing, fine, 4.0 * unit.rated_peak_volts};
    }
}

void RelayContact::process(std::span<double> frames) const {
    for (std::size_t c = 0; c < 2; ++c) {
        if (bent_[c]) {
            for (std::size_t i = c; i < frames.size(); i += 2) {
                frames[i] = share_[c] * frames[i] - missing_[c](frames[i]);
            }
        }
    }
    scale_frames(frames.data(), frames.size() / 2, bent_[0] ? 1.0 : share_[0],
                 bent_[1] ? 1.0 : share_[1]);
}

}  // namespace afterload::instruments
