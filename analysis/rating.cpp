#include "analysis/rating.hpp"

#include <algorithm>
#include <cmath>

namespace afterload {

namespace {

bool near(double a, double b, double relative) {
    return std::abs(a - b) <= relative * std::max(std::abs(a), std::abs(b));
}

constexpr double frequency_slack = 0.02;  // a nominal 20 Hz is played at 19.7 Hz
constexpr double load_slack = 0.05;
constexpr double level_slack = 0.01;
constexpr double mains_slack = 0.10;  // EN 50160: the supply may be 10 % off
constexpr double ambient_slack_kelvin = 10.0;

bool inside(const Band& band, Hertz frequency) {
    return (1.0 - frequency_slack) * band.low <= frequency &&
           frequency <= (1.0 + frequency_slack) * band.high;
}

bool covers(const Band& measured, const Band& rated) {
    return inside(measured, rated.low) && inside(measured, rated.high);
}

bool same_band(const Band& a, const Band& b) {
    return near(a.low.in<Hertz>(), b.low.in<Hertz>(), frequency_slack) &&
           near(a.high.in<Hertz>(), b.high.in<Hertz>(), frequency_slack);
}

// "speaker" on a sheet speaks of "speaker_a" and "speaker_b" alike.
bool speaks_of(const std::string& rated, const std::string& measured) {
    return measured == rated || measured.starts_with(rated + "_");
}

bool same_level(const LevelTarget& a, const LevelTarget& b) {
    return a.kind == b.kind && near(a.value, b.value, level_slack);
}

// True unless both state it and `agree` says no.
template <class T, class Agree>
bool unless_at_odds(const std::optional<T>& rated, const std::optional<T>& measured, Agree agree) {
    return !rated || !measured || agree(*rated, *measured);
}

template <class Unit>
auto within(double relative) {
    return [relative](Unit a, Unit b) {
        return near(a.template in<Unit>(), b.template in<Unit>(), relative);
    };
}

// The width of the meter is set by the rating and limited by the card. It never says which rating
// is meant for a distortion; for noise and the rest it does.
bool selects_by_bandwidth(FigureKind kind) {
    switch (kind) {
        case FigureKind::thd:
        case FigureKind::harmonic:
        case FigureKind::modulation_distortion:
        case FigureKind::difference_frequency_distortion:
            return false;
        default:
            return true;
    }
}

bool same_tone(const Conditions& rated, const Conditions& measured) {
    if (!unless_at_odds(rated.frequency, measured.frequency, within<Hertz>(frequency_slack))) {
        return false;
    }
    if (rated.tone_range && measured.frequency && !rated.frequency &&
        !inside(*rated.tone_range, *measured.frequency)) {
        return false;
    }
    if (rated.frequency && measured.tone_range && !measured.frequency) {
        return false;  // a figure over a band is not the one at a frequency
    }
    // A wider sweep holds the rated range.
    return unless_at_odds(rated.tone_range, measured.tone_range,
                          [](const Band& r, const Band& m) { return covers(m, r); });
}

bool same_levels(const Conditions& rated, const Conditions& measured) {
    return unless_at_odds(rated.output_level, measured.output_level, same_level) &&
           unless_at_odds(rated.reference_level, measured.reference_level, same_level) &&
           unless_at_odds(rated.thd, measured.thd,
                          [](double a, double b) { return near(a, b, level_slack); }) &&
           unless_at_odds(rated.fall, measured.fall,
                          [](Gain a, Gain b) { return std::abs((a - b).decibels()) <= 0.01; });
}

// What is left beside many tones is not what is left beside one: never one for the other in
// silence.
bool same_signal(FigureKind kind, const Conditions& rated, const Conditions& measured) {
    if (kind == FigureKind::thd_plus_noise || kind == FigureKind::sinad) {
        return rated.signal == measured.signal;
    }
    return unless_at_odds(rated.signal, measured.signal,
                          [](const auto& a, const auto& b) { return a == b; });
}

bool same_setup(const Conditions& rated, const Conditions& measured) {
    const auto equal = [](const auto& a, const auto& b) { return a == b; };
    return unless_at_odds(rated.load, measured.load, within<Ohms>(load_slack)) &&
           unless_at_odds(rated.channels_driven, measured.channels_driven, equal) &&
           unless_at_odds(rated.weighting, measured.weighting, equal) &&
           unless_at_odds(rated.detector, measured.detector, equal) &&
           unless_at_odds(rated.reference_frequency, measured.reference_frequency,
                          within<Hertz>(frequency_slack)) &&
           unless_at_odds(rated.input, measured.input, speaks_of) &&
           unless_at_odds(rated.output, measured.output, speaks_of) &&
           unless_at_odds(rated.path, measured.path, equal) &&
           unless_at_odds(rated.source_impedance, measured.source_impedance,
                          within<Ohms>(load_slack)) &&
           unless_at_odds(rated.termination, measured.termination, equal) &&
           unless_at_odds(rated.volume, measured.volume, equal) &&
           unless_at_odds(rated.tone_controls, measured.tone_controls, equal);
}

// What the room, the mains and the clock gave: near enough, or at least as long as asked for.
bool same_circumstances(const Conditions& rated, const Conditions& measured) {
    const auto at_least_as_long = [](Seconds asked, Seconds given) {
        return given >= 0.98 * asked;
    };
    const auto equal = [](const auto& a, const auto& b) { return a == b; };
    return unless_at_odds(rated.mains_voltage, measured.mains_voltage,
                          [](double a, double b) { return near(a, b, mains_slack); }) &&
           unless_at_odds(rated.warm_up, measured.warm_up, at_least_as_long) &&
           unless_at_odds(rated.dwell, measured.dwell, at_least_as_long) &&
           unless_at_odds(rated.preconditioning, measured.preconditioning, equal) &&
           unless_at_odds(rated.ambient, measured.ambient, [](Celsius a, Celsius b) {
               return std::abs((a - b).in<Celsius>()) <= ambient_slack_kelvin;
           });
}

}  // namespace

bool applies(const RatedFigure& rated, FigureKind kind, const Conditions& measured) {
    if (rated.figure != kind) {
        return false;
    }
    if (selects_by_bandwidth(kind) &&
        !unless_at_odds(rated.conditions.bandwidth, measured.bandwidth, same_band)) {
        return false;
    }
    return same_signal(kind, rated.conditions, measured) && same_tone(rated.conditions, measured) &&
           same_levels(rated.conditions, measured) && same_setup(rated.conditions, measured) &&
           same_circumstances(rated.conditions, measured);
}

RatingSheet laid_under(const RatingSheet& unit, const RatingSheet& house) {
    RatingSheet both = unit;
    for (const RatedFigure& demand : house.figures) {
        const bool rated_by_maker =
            std::ranges::any_of(unit.figures, [&demand](const RatedFigure& own) {
                return applies(own, demand.figure, demand.conditions);
            });
        if (rated_by_maker) {
            continue;
        }
        RatedFigure laid = demand;
        laid.origin = RatedFigure::Origin::house;
        while (std::ranges::any_of(
            both.figures, [&laid](const RatedFigure& other) { return other.id == laid.id; })) {
            laid.id += "_house";
        }
        both.figures.push_back(std::move(laid));
    }
    return both;
}

}  // namespace afterload
