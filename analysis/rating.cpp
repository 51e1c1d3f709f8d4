#include "analysis/rating.hpp"

#include <algorithm>
#include <cmath>

namespace afterload {

namespace {

// How the rows below were found:
//   common practice, sheets   what service sheets state and how it is mis-compared
//   computed                  follows from the convention itself
//   memory                    a fair guess of the trade, no source to quote
// A spread of 0 means that a standard or a universal habit settles the condition: the figure is
// compared and the condition is marked as assumed.
std::vector<NeededCondition> needed_table() {
    using enum FigureKind;
    constexpr double four_against_eight_ohm = 3.01;  // 10 lg 2, computed, stiff supply
    constexpr double one_against_both = 0.61;        // 5 to 15 % more with one driven: 10 lg 1.15
    constexpr double a_against_flat = 4.3;           // equalised noise; white 2.0, hum 17: computed
    constexpr double card_against_meter = 6.02;      // white noise to 20 kHz or to 80 kHz: computed
    constexpr double rated_against_one_watt = 16.0;  // 10 lg 40: computed for 40 W
    constexpr double level_of_distortion = 14.0;     // five times between 1 W and rated: memory
    constexpr double treble_distortion = 14.0;       // up to five times at 10 kHz: memory
    constexpr double range_of_power = 0.4;  // a tenth more at 1 kHz than 20 Hz..20 kHz: memory
    return {
        {output_power, "load", "8 ohm", four_against_eight_ohm, "4 ohm against 8 ohm"},
        {output_power, "channels_driven", "both", one_against_both,
         "one channel driven reads 5 to 15 % high"},
        {output_power, "frequency", "1 kHz", range_of_power, "1 kHz against 20 Hz to 20 kHz"},

        {short_term_power, "load", "8 ohm", four_against_eight_ohm, "4 ohm against 8 ohm"},
        {short_term_power, "channels_driven", "both", one_against_both,
         "one channel driven reads 5 to 15 % high"},
        // Hard clipper, total power: onset to 1 % 0.20 dB, to 10 % 1.10 dB (computed).
        {short_term_power, "thd", "1 %", 1.10, "onset of clipping against 10 % distortion"},

        {distortion_limited_power, "load", "8 ohm", four_against_eight_ohm, "4 ohm against 8 ohm"},
        {distortion_limited_power, "channels_driven", "both", one_against_both,
         "one channel driven reads 5 to 15 % high"},
        {distortion_limited_power, "frequency", "1 kHz", range_of_power,
         "1 kHz against 20 Hz to 20 kHz"},
        {distortion_limited_power, "thd", "1 %", 1.10, "onset of clipping against 10 % distortion"},

        // IEC 60268-3: 3 dB below rated output, at rated distortion.
        {power_bandwidth, "thd", "the sheet's rated distortion", 0.0,
         "settled by IEC 60268-3: rated distortion at half of the rated power"},
        {power_bandwidth, "load", "8 ohm", 0.0, "that of the power rating"},

        // 470 ohm behind a pre-out of 1 V: 0.40 dB into 10 kohm, 0.09 dB into 47 kohm (computed).
        {output_voltage, "load", "10 kohm at a line output", 0.40,
         "open against 10 kohm, behind 470 ohm"},

        // IEC 60268-3, rated conditions: volume at maximum, tone controls flat.
        {gain, "volume", "maximum", 0.0, "settled by IEC 60268-3, rated conditions"},
        {channel_balance, "volume", "maximum", 0.0, "settled by IEC 60268-3, rated conditions"},
        {input_sensitivity, "volume", "maximum", 0.0, "settled by IEC 60268-3, rated conditions"},
        {input_sensitivity, "frequency", "1 kHz", 0.0, "universal"},
        // A method of 1978 states the input for 1 W (CTA-490), all others that for rated output.
        {input_sensitivity, "output_level", "rated", rated_against_one_watt,
         "for rated output or for 1 W"},
        {overload_level, "frequency", "1 kHz", 0.0, "universal"},
        {overload_level, "thd", "1 %", 0.20, "onset of clipping against 1 % distortion"},

        {thd, "output_level", "rated", level_of_distortion, "at 1 W or at rated output"},
        {thd, "frequency", "1 kHz", treble_distortion, "at 1 kHz or at the band's upper end"},
        // A meter that passes H2 and H3 has nearly all of a falling row of harmonics.
        {thd, "bandwidth", "0.45 of the card's sample rate", 0.0,
         "harmonics that matter lie inside any meter that passes the third"},
        {thd_plus_noise, "output_level", "rated", level_of_distortion, "at 1 W or at rated output"},
        {thd_plus_noise, "frequency", "1 kHz", treble_distortion,
         "at 1 kHz or at the band's upper end"},
        {thd_plus_noise, "bandwidth", "20 Hz to 20 kHz", card_against_meter,
         "noise to 20 kHz or to 80 kHz"},
        {sinad, "output_level", "rated", level_of_distortion, "at 1 W or at rated output"},
        {sinad, "bandwidth", "20 Hz to 20 kHz", card_against_meter, "noise to 20 kHz or to 80 kHz"},
        {modulation_distortion, "output_level", "rated", level_of_distortion,
         "at 1 W or at rated output"},
        {difference_frequency_distortion, "output_level", "rated", level_of_distortion,
         "at 1 W or at rated output"},

        {frequency_response, "tone_range", "20 Hz to 20 kHz", 0.0, "the audio band"},
        {frequency_response, "reference_frequency", "1 kHz", 0.0, "settled by IEC 60268-3"},
        {frequency_response, "path", "direct", 0.0,
         "the direct path where there is one, else tone controls flat"},
        // First-order corner: the -1 dB frequency is 0.509 of the -3 dB one, or its inverse.
        {bandwidth_low, "fall", "-3 dB", 5.87, "-1 dB against -3 dB"},
        {bandwidth_high, "fall", "-3 dB", 5.87, "-1 dB against -3 dB"},
        // The equalisation of 1976 has another corner at 20 Hz (computed: 3.0 dB at 20 Hz).
        {equalisation_error, "tone_range", "20 Hz to 20 kHz", 3.0,
         "with or without the corner at 20 Hz"},
        {tone_range_error, "frequency", "100 Hz and 10 kHz", 3.0,
         "50 Hz and 20 kHz against 100 Hz and 10 kHz"},
        {volume_tracking, "volume", "from maximum to -40 dB", 1.0,
         "tracking of a pair of tracks from maximum to -40 dB"},

        {noise_voltage, "weighting", "none", a_against_flat, "A-weighted or not"},
        {noise_voltage, "bandwidth", "20 Hz to 20 kHz", card_against_meter,
         "noise to 20 kHz or to 80 kHz"},
        {noise_voltage, "volume", "maximum", 10.0, "volume at zero or at maximum"},
        {hum_voltage, "volume", "zero", 10.0, "volume at zero or at maximum"},
        {signal_to_noise, "weighting", "A", a_against_flat, "A-weighted or not"},
        {signal_to_noise, "reference_level", "rated", rated_against_one_watt,
         "re rated output or re 1 W"},
        // Two families of old sheets: shorted and at maximum, or terminated and set for 1 W.
        {signal_to_noise, "volume", "maximum", 10.0,
         "volume at maximum or set for the reference reads 10 to 20 dB apart"},
        // Thermal noise of 1 kohm against a coil of a cartridge: 6 dB (computed).
        {signal_to_noise, "termination", "shorted", 6.0, "shorted or terminated"},

        {channel_separation, "frequency", "1 kHz", 15.0, "at 1 kHz or at 10 kHz"},
        {channel_separation, "termination", "shorted", 20.0,
         "an open undriven input reads 20 to 40 dB worse"},

        {output_impedance, "frequency", "1 kHz", 2.0, "at 50 Hz or at 1 kHz"},
        {damping_factor, "frequency", "1 kHz", 2.0, "at 50 Hz or at 1 kHz"},
        {damping_factor, "load", "8 ohm", 0.0, "that of the power rating"},

        {dc_offset, "warm_up", "warm", 0.0, "every sheet means the warm unit"},
        {quiescent_current, "warm_up", "20 to 25 min", 0.0, "every sheet means the warm unit"},
        {supply_rail, "mains_voltage", "the unit's nameplate", 0.0, "nameplate voltage"},
    };
}

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

bool same_setup(const Conditions& rated, const Conditions& measured) {
    const auto equal = [](const auto& a, const auto& b) { return a == b; };
    return unless_at_odds(rated.load, measured.load, within<Ohms>(load_slack)) &&
           unless_at_odds(rated.channels_driven, measured.channels_driven, equal) &&
           unless_at_odds(rated.weighting, measured.weighting, equal) &&
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

const std::vector<NeededCondition>& needed_conditions() {
    static const std::vector<NeededCondition> table = needed_table();
    return table;
}

bool applies(const RatedFigure& rated, FigureKind kind, const Conditions& measured) {
    if (rated.figure != kind) {
        return false;
    }
    if (selects_by_bandwidth(kind) &&
        !unless_at_odds(rated.conditions.bandwidth, measured.bandwidth, same_band)) {
        return false;
    }
    return same_tone(rated.conditions, measured) && same_levels(rated.conditions, measured) &&
           same_setup(rated.conditions, measured) && same_circumstances(rated.conditions, measured);
}

std::vector<NeededCondition> missing_conditions(const RatedFigure& rated) {
    std::vector<NeededCondition> missing;
    if (rated.origin == RatedFigure::Origin::house) {
        return missing;
    }
    for (const NeededCondition& needed : needed_conditions()) {
        if (needed.figure != rated.figure || stated(rated.conditions, needed.key)) {
            continue;
        }
        const bool over_a_range = needed.key == "frequency" && rated.conditions.tone_range;
        if (!over_a_range) {
            missing.push_back(needed);
        }
    }
    return missing;
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
