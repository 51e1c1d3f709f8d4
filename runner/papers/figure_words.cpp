#include "runner/papers/figure_words.hpp"

#include "runner/papers/number_text.hpp"
#include "runner/papers/time_text.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <array>
#include <vector>

namespace afterload::runner {

namespace {

std::string band_words(const Band& band) {
    return fmt::format("{} to {}", quantity_text(band.low.in<Hertz>(), "Hz"),
                       quantity_text(band.high.in<Hertz>(), "Hz"));
}

std::string duration_text(Seconds time) {
    const double seconds = time.in<Seconds>();
    return seconds < 60.0 ? quantity_text(seconds, "s") : duration_words(time);
}

}  // namespace

std::string_view words(FigureKind kind) {
    switch (kind) {
        case FigureKind::output_voltage:
            return "output voltage";
        case FigureKind::output_power:
            return "output power";
        case FigureKind::short_term_power:
            return "short-term power";
        case FigureKind::gain:
            return "gain";
        case FigureKind::channel_balance:
            return "channel balance";
        case FigureKind::level_linearity:
            return "level linearity";
        case FigureKind::dc_offset:
            return "DC offset";
        case FigureKind::frequency:
            return "frequency";
        case FigureKind::thd:
            return "THD";
        case FigureKind::thd_plus_noise:
            return "THD + noise";
        case FigureKind::harmonic:
            return "harmonics";
        case FigureKind::sinad:
            return "SINAD";
        case FigureKind::modulation_distortion:
            return "modulation distortion";
        case FigureKind::difference_frequency_distortion:
            return "difference-frequency distortion";
        case FigureKind::frequency_response:
            return "frequency response";
        case FigureKind::bandwidth_low:
            return "bandwidth, lower end";
        case FigureKind::bandwidth_high:
            return "bandwidth, upper end";
        case FigureKind::power_bandwidth:
            return "power bandwidth";
        case FigureKind::distortion_limited_power:
            return "power at stated THD";
        case FigureKind::clipping_symmetry:
            return "clipping symmetry";
        case FigureKind::noise_voltage:
            return "noise voltage";
        case FigureKind::signal_to_noise:
            return "signal to noise";
        case FigureKind::hum_voltage:
            return "hum";
        case FigureKind::random_steps:
            return "random steps";
        case FigureKind::channel_separation:
            return "channel separation";
        case FigureKind::output_impedance:
            return "output impedance";
        case FigureKind::damping_factor:
            return "damping factor";
        case FigureKind::input_sensitivity:
            return "input sensitivity";
        case FigureKind::overload_level:
            return "overload level";
        case FigureKind::equalisation_error:
            return "equalisation error";
        case FigureKind::tone_range_error:
            return "tone range error";
        case FigureKind::volume_tracking:
            return "volume tracking";
        case FigureKind::polarity:
            return "polarity";
        case FigureKind::channel_identity:
            return "channel identity";
        case FigureKind::quiescent_current:
            return "quiescent current";
        case FigureKind::supply_rail:
            return "supply rail";
        case FigureKind::temperature:
            return "temperature";
        case FigureKind::mains_voltage:
            return "mains voltage";
        case FigureKind::mains_power:
            return "mains power";
        case FigureKind::relay_delay:
            return "relay delay";
    }
    return "figure";
}

std::string condition_words(const Conditions& c, std::string_view key) {
    if (key == "load" && c.load) {
        return quantity_text(c.load->in<Ohms>(), "Ω");
    }
    if (key == "channels_driven" && c.channels_driven) {
        return *c.channels_driven == Channels::both
                   ? "both channels driven"
                   : fmt::format("{} driven", name(*c.channels_driven));
    }
    if (key == "output_level" && c.output_level) {
        return text(*c.output_level);
    }
    if (key == "frequency" && c.frequency) {
        return quantity_text(c.frequency->in<Hertz>(), "Hz");
    }
    if (key == "tone_range" && c.tone_range) {
        return band_words(*c.tone_range);
    }
    if (key == "bandwidth" && c.bandwidth) {
        return fmt::format("band {}", band_words(*c.bandwidth));
    }
    if (key == "weighting" && c.weighting) {
        return *c.weighting == Weighting::unweighted
                   ? "unweighted"
                   : fmt::format("{}-weighted", name(*c.weighting));
    }
    if (key == "detector" && c.detector) {
        return std::string{name(*c.detector)};
    }
    if (key == "reference_level" && c.reference_level) {
        return "re " + reference_text(*c.reference_level);
    }
    if (key == "reference_frequency" && c.reference_frequency) {
        return fmt::format("re {}", quantity_text(c.reference_frequency->in<Hertz>(), "Hz"));
    }
    if (key == "highest_order" && c.highest_order) {
        return *c.highest_order > 3    ? fmt::format("orders 2 to {}", *c.highest_order)
               : *c.highest_order == 3 ? std::string{"orders 2 and 3"}
                                       : fmt::format("order {} only", *c.highest_order);
    }
    if (key == "thd" && c.thd) {
        return fmt::format("THD {} %", plain(*c.thd * 100.0, 4));
    }
    if (key == "fall" && c.fall) {
        return fmt::format("at {} dB", plain(c.fall->decibels(), 4));
    }
    if (key == "input" && c.input) {
        return fmt::format("{} input", *c.input);
    }
    if (key == "output" && c.output) {
        std::string output = *c.output;
        std::replace(output.begin(), output.end(), '_', ' ');
        return output;
    }
    if (key == "path" && c.path) {
        return fmt::format("{} path", *c.path);
    }
    if (key == "source_impedance" && c.source_impedance) {
        return fmt::format("from {}", quantity_text(c.source_impedance->in<Ohms>(), "Ω"));
    }
    if (key == "termination" && c.termination) {
        return fmt::format("idle input {}", *c.termination);
    }
    if (key == "volume" && c.volume) {
        return fmt::format("volume {}", *c.volume);
    }
    if (key == "tone_controls" && c.tone_controls) {
        return fmt::format("tone controls {}", *c.tone_controls);
    }
    if (key == "curve" && c.curve) {
        return fmt::format("curve {}", *c.curve);
    }
    if (key == "mains_voltage" && c.mains_voltage) {
        return fmt::format("mains {}", quantity_text(*c.mains_voltage, "V"));
    }
    if (key == "warm_up" && c.warm_up) {
        return fmt::format("{} warm", duration_text(*c.warm_up));
    }
    if (key == "preconditioning" && c.preconditioning) {
        return *c.preconditioning;
    }
    if (key == "ambient" && c.ambient) {
        return fmt::format("room {}", quantity_text(c.ambient->in<Celsius>(), "°C", 3));
    }
    if (key == "dwell" && c.dwell) {
        return fmt::format("held {}", duration_text(*c.dwell));
    }
    if (key == "signal" && c.signal) {
        return *c.signal;
    }
    return {};
}

std::string key_words(std::string_view key) {
    if (key == "thd") {
        return "THD";
    }
    std::string words{key};
    std::replace(words.begin(), words.end(), '_', ' ');
    return words;
}

std::string figure_conditions(const Figure& figure) {
    static constexpr std::array<std::string_view, 11> beside{
        "output_level",        "thd",           "frequency", "tone_range",
        "reference_frequency", "fall",          "weighting", "detector",
        "reference_level",     "highest_order", "bandwidth"};
    const bool band_counts =
        figure.kind == FigureKind::thd_plus_noise || figure.kind == FigureKind::noise_voltage ||
        figure.kind == FigureKind::sinad || figure.kind == FigureKind::signal_to_noise;
    const bool weighted =
        figure.conditions.weighting.value_or(Weighting::unweighted) != Weighting::unweighted;
    std::vector<std::string> parts;
    for (const std::string_view key : beside) {
        if ((key == "bandwidth" && (!band_counts || weighted)) ||
            (key == "weighting" && !weighted && figure.conditions.bandwidth)) {
            continue;
        }
        if (std::string part = condition_words(figure.conditions, key); !part.empty()) {
            parts.push_back(std::move(part));
        }
    }
    if (figure.conditions.dwell && figure.conditions.dwell->in<Seconds>() > 0.0) {
        parts.push_back(condition_words(figure.conditions, "dwell"));
    }
    return fmt::format("{}", fmt::join(parts, ", "));
}

}  // namespace afterload::runner
