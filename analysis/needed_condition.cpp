#include "analysis/rating.hpp"

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
    constexpr double rms_against_peak = 4.6;         // white noise through 468: computed
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
        {noise_voltage, "detector", "quasi-peak", rms_against_peak, "quasi-peak or rms"},
        {noise_voltage, "bandwidth", "20 Hz to 20 kHz", card_against_meter,
         "noise to 20 kHz or to 80 kHz"},
        {noise_voltage, "volume", "maximum", 10.0, "volume at zero or at maximum"},
        {hum_voltage, "volume", "zero", 10.0, "volume at zero or at maximum"},
        {signal_to_noise, "weighting", "A", a_against_flat, "A-weighted or not"},
        {signal_to_noise, "detector", "quasi-peak", rms_against_peak, "quasi-peak or rms"},
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

}  // namespace

const std::vector<NeededCondition>& needed_conditions() {
    static const std::vector<NeededCondition> table = needed_table();
    return table;
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
        const bool always_rms =
            needed.key == "detector" && rated.conditions.weighting != Weighting::itu_r_468;
        if (!over_a_range && !always_rms) {
            missing.push_back(needed);
        }
    }
    return missing;
}

}  // namespace afterload
