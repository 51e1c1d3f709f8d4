#include "sequences/printed_figure.hpp"

namespace afterload::sequences {

std::string_view printed_example(FigureKind kind) {
    switch (kind) {
        case FigureKind::output_power:
        case FigureKind::distortion_limited_power:
        case FigureKind::short_term_power:
            return "45 W + 45 W into 8 ohms, 20 Hz-20 kHz, 0.05 %";
        case FigureKind::mains_power:
            return "160 W ±10 %";
        case FigureKind::thd:
        case FigureKind::thd_plus_noise:
        case FigureKind::harmonic:
            return "0.05 % at rated power, 20 Hz-20 kHz";
        case FigureKind::modulation_distortion:
            return "0.05 % at rated power, 60 Hz/7 kHz, 4:1";
        case FigureKind::difference_frequency_distortion:
            return "0.05 % at rated power, 19 kHz/20 kHz, 1:1";
        case FigureKind::frequency_response:
            return "10 Hz-50 kHz, +0/-1.5 dB";
        case FigureKind::power_bandwidth:
            return "5 Hz-60 kHz, half power, 0.1 %";
        case FigureKind::bandwidth_low:
            return "5 Hz, -3 dB";
        case FigureKind::bandwidth_high:
            return "60 kHz, -3 dB";
        case FigureKind::input_sensitivity:
            return "line 150 mV/47 kohm";
        case FigureKind::overload_level:
            return "phono 150 mV at 1 kHz, 0.1 %";
        case FigureKind::gain:
            return "41.5 dB ±1.5 dB";
        case FigureKind::output_voltage:
            return "28 V into 8 ohms";
        case FigureKind::signal_to_noise:
            return "90 dB (IHF-A), input shorted, re rated output";
        case FigureKind::noise_voltage:
        case FigureKind::hum_voltage:
            return "0.5 mV, A-weighted, volume minimum";
        case FigureKind::channel_separation:
            return "60 dB at 1 kHz, input shorted";
        case FigureKind::damping_factor:
            return "50 at 1 kHz, 8 ohms";
        case FigureKind::output_impedance:
            return "0.1 ohm at 1 kHz";
        case FigureKind::tone_range_error:
            return "±10 dB at 100 Hz";
        case FigureKind::channel_balance:
        case FigureKind::level_linearity:
        case FigureKind::volume_tracking:
            return "within 1 dB";
        case FigureKind::equalisation_error:
            return "20 Hz-20 kHz, ±0.5 dB";
        case FigureKind::dc_offset:
            return "0 ± 50 mV";
        case FigureKind::quiescent_current:
            return "12 mV ± 3 mV across 0.33 ohm";
        case FigureKind::supply_rail:
            return "36 V ±5 %";
        case FigureKind::mains_voltage:
            return "230 V ±10 %";
        case FigureKind::temperature:
            return "60 degC or less";
        case FigureKind::frequency:
            return "1 kHz ±1 %";
        case FigureKind::random_steps:
            return "2 1/s";
        case FigureKind::sinad:
            return "70 dB at rated power, 1 kHz";
        case FigureKind::relay_delay:
            return "3 s to 6 s";
        case FigureKind::clipping_symmetry:
        case FigureKind::polarity:
        case FigureKind::channel_identity:
            break;
    }
    return "1";
}

}  // namespace afterload::sequences
