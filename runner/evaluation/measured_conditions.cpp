#include "runner/evaluation/measured_conditions.hpp"

#include "runner/evaluation/bench_share.hpp"
#include "sequences/review.hpp"

#include <fmt/format.h>

#include <array>
#include <cmath>

namespace afterload::runner {

Conditions measured_conditions(const StepPath& path, const DrivenAs& driven,
                               const sequences::BenchFile& bench) {
    Conditions conditions;
    const bool at_speakers = path.output.starts_with("speaker");
    if (const auto* load = load_of(bench, 1, driven.load);
        load != nullptr && at_speakers && !driven.open) {
        conditions.load = load->resistance;
    }
    if (!driven.silent()) {
        const bool left = driven.drive_left_volts > 0.0;
        const bool right = driven.drive_right_volts > 0.0;
        conditions.channels_driven = left && right ? Channels::both
                                     : left        ? Channels::left
                                                   : Channels::right;
        conditions.frequency = driven.nominal;
        conditions.output_level = driven.target;
        if (driven.dwell > Seconds{0.0}) {
            conditions.dwell = driven.dwell;
        }
    }
    conditions.input = path.input;
    conditions.output = path.output;
    conditions.path = path.path;
    conditions.volume = driven.volume.empty() ? path.volume : driven.volume;
    conditions.tone_controls =
        driven.tone_controls.empty() ? path.tone_controls : driven.tone_controls;
    conditions.source_impedance = source_that_played(bench, driven).impedance;
    if (driven.mains_voltage > 0.0) {
        conditions.mains_voltage = driven.mains_voltage;
    }
    if (std::isfinite(driven.ambient)) {
        conditions.ambient = Celsius{driven.ambient};
    }
    return conditions;
}

std::string group_of(const StepPath& path) {
    if (path.input == "phono") {
        return "Phono";
    }
    if (path.output == "pre_out") {
        return "Pre-out";
    }
    if (path.output == "headphone") {
        return "Headphone";
    }
    if (path.output == "speaker_b") {
        return "Terminals B";
    }
    return path.path == "tone" ? "Tone path" : "Direct path";
}

std::string group_conditions(const StepPath& path, const sequences::BenchFile& bench,
                             std::optional<Ohms> load_asked) {
    std::string text = path.input + " in, volume " + path.volume;
    if (path.path == "tone") {
        text += ", tone " + path.tone_controls;
    }
    if (const auto* load = load_of(bench, 1, load_asked);
        load != nullptr && path.output.starts_with("speaker")) {
        text += fmt::format(", into {:.2f} ohm", load->resistance.in<Ohms>());
    }
    return text;
}

std::string nominal_text(Hertz frequency) {
    const double f = frequency.in<Hertz>();
    // The one third-octave name that two digits do not hold.
    double shown = std::abs(f / 31.5 - 1.0) < 0.01 ? 31.5 : f;
    if (shown == f && f > 0.0) {
        const double unit = std::pow(10.0, std::floor(std::log10(f)) - 1.0);
        const double rounded = std::round(f / unit) * unit;
        if (std::abs(rounded / f - 1.0) < 0.025) {
            shown = rounded;
        }
    }
    return shown >= 1000.0 ? fmt::format("{:.4g} kHz", shown / 1000.0)
                           : fmt::format("{:.4g} Hz", shown);
}

std::optional<Hertz> mains_frequency(const RatingSheet& sheet) {
    return sheet.unit ? sheet.unit->mains_frequency : std::nullopt;
}

std::optional<Watts> watts_of(const LevelTarget& level, const RatingSheet& sheet, Ohms load,
                              Channels driven) {
    switch (level.kind) {
        case LevelTarget::Kind::output_power:
            return Watts{level.value};
        case LevelTarget::Kind::output_volts:
            return dissipated(VoltsRms{level.value}, load);
        case LevelTarget::Kind::rated_fraction: {
            const auto rated = sequences::rated_power(sheet, load, driven);
            if (!rated) {
                return std::nullopt;
            }
            return level.value * rated->power;
        }
        case LevelTarget::Kind::drive_volts:
        case LevelTarget::Kind::drive_dbfs:
            return std::nullopt;
    }
    return std::nullopt;
}

namespace {

std::string_view short_name(FigureKind kind) {
    switch (kind) {
        case FigureKind::output_voltage:
            return "output voltage";
        case FigureKind::output_power:
            return "power";
        case FigureKind::channel_balance:
            return "balance";
        case FigureKind::dc_offset:
            return "DC offset";
        case FigureKind::thd:
            return "THD";
        case FigureKind::thd_plus_noise:
            return "THD + noise";
        case FigureKind::harmonic:
            return "harmonics";
        case FigureKind::sinad:
            return "SINAD";
        case FigureKind::frequency_response:
            return "response";
        case FigureKind::bandwidth_low:
            return "lower band edge";
        case FigureKind::bandwidth_high:
            return "upper band edge";
        case FigureKind::noise_voltage:
            return "noise";
        case FigureKind::signal_to_noise:
            return "signal to noise";
        case FigureKind::hum_voltage:
            return "hum";
        case FigureKind::channel_separation:
            return "separation";
        case FigureKind::mains_voltage:
            return "mains";
        case FigureKind::quiescent_current:
            return "idle current";
        default:
            return name(kind);
    }
}

std::string weighting_words(const Conditions& conditions) {
    if (!conditions.weighting) {
        return "";
    }
    switch (*conditions.weighting) {
        case Weighting::a:
            return ", A";
        case Weighting::itu_r_468:
            return conditions.detector == Detector::quasi_peak ? ", ITU-R 468 q-pk"
                                                               : ", ITU-R 468 rms";
        case Weighting::unweighted:
            return ", flat";
    }
    return "";
}

// Rated output goes without saying.
std::string reference_words(const Conditions& conditions) {
    const auto& level = conditions.reference_level;
    return level && *level != LevelTarget{} ? " re " + reference_text(*level) : "";
}

}  // namespace

std::string label_of(FigureKind kind, const Conditions& conditions, const RatingSheet& sheet) {
    std::string text{short_name(kind)};
    for (char& letter : text) {
        letter = letter == '_' ? ' ' : letter;
    }
    if (kind == FigureKind::noise_voltage || kind == FigureKind::signal_to_noise) {
        return text + weighting_words(conditions) + reference_words(conditions);
    }
    if (kind == FigureKind::tone_range_error && conditions.tone_controls) {
        text += ", " + *conditions.tone_controls;
    }
    if (kind == FigureKind::output_power && conditions.thd) {
        return text + fmt::format(", THD {:.3g} %", 100.0 * *conditions.thd);
    }
    const bool levelled = kind == FigureKind::thd || kind == FigureKind::thd_plus_noise ||
                          kind == FigureKind::harmonic || kind == FigureKind::sinad;
    if (levelled && conditions.output_level) {
        const auto watts =
            watts_of(*conditions.output_level, sheet, conditions.load.value_or(Ohms{8.0}),
                     conditions.channels_driven.value_or(Channels::both));
        text += watts ? fmt::format(" {:.3g} W", watts->in<Watts>())
                      : " " + afterload::text(*conditions.output_level);
        if (conditions.frequency) {
            return text + ", " + nominal_text(*conditions.frequency);
        }
    }
    const bool at_a_frequency =
        kind != FigureKind::hum_voltage && kind != FigureKind::output_power &&
        kind != FigureKind::output_voltage && kind != FigureKind::polarity &&
        kind != FigureKind::channel_identity;
    if (conditions.frequency && at_a_frequency) {
        text += " " + nominal_text(*conditions.frequency);
    }
    return text;
}

}  // namespace afterload::runner
