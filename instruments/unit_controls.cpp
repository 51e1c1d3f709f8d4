#include "instruments/unit_controls.hpp"

#include "analysis/level.hpp"
#include "instruments/unit_parameters.hpp"

#include <charconv>
#include <optional>

namespace afterload::instruments {

namespace {

constexpr double muted = 0.1;
constexpr double open_input_hum = 20.0;  // how much more an open input of the output stage hums

/// "-20 dB", "-20dB": decibels within ±`most`.
std::optional<double> decibels_in(std::string_view text, double most) {
    double decibels = 0.0;
    const auto [rest, error] = std::from_chars(text.data(), text.data() + text.size(), decibels);
    if (error != std::errc{} || !(decibels <= most && decibels >= -most)) {
        return std::nullopt;
    }
    const std::string_view unit(rest, text.data() + text.size());
    if (unit != "dB" && unit != " dB") {
        return std::nullopt;
    }
    return decibels;
}

std::optional<double> volume_mark(std::string_view text) {
    const std::optional<double> mark = decibels_in(text, 120.0);
    return mark && *mark <= 0.0 ? mark : std::nullopt;
}

std::optional<Knob> knob(std::string_view text) {
    if (text == "centre") {
        return Knob{};
    }
    if (text == "maximum") {
        return Knob{KnobPosition::maximum, 0.0};
    }
    if (text == "minimum") {
        return Knob{KnobPosition::minimum, 0.0};
    }
    if (const std::optional<double> beside = decibels_in(text, 10.0)) {
        return Knob{KnobPosition::centre, *beside};
    }
    return std::nullopt;
}

std::optional<UnitOutput> output(std::string_view text) {
    if (text == "speaker_a") {
        return UnitOutput::speaker_a;
    }
    if (text == "speaker_b") {
        return UnitOutput::speaker_b;
    }
    if (text == "pre_out") {
        return UnitOutput::pre_out;
    }
    if (text == "headphone") {
        return UnitOutput::headphone;
    }
    return std::nullopt;
}

std::optional<SpeakerSwitch> speakers(std::string_view text) {
    if (text == "A") {
        return SpeakerSwitch::a;
    }
    if (text == "B") {
        return SpeakerSwitch::b;
    }
    if (text == "A+B") {
        return SpeakerSwitch::both;
    }
    if (text == "off") {
        return SpeakerSwitch::off;
    }
    return std::nullopt;
}

std::optional<std::array<bool, 2>> jumpers(std::string_view text) {
    if (text == "in") {
        return std::array{true, true};
    }
    if (text == "out") {
        return std::array{false, false};
    }
    if (text == "left out") {
        return std::array{false, true};
    }
    if (text == "right out") {
        return std::array{true, false};
    }
    return std::nullopt;
}

/// `position` as one of two words.
std::optional<bool> either(std::string_view position, std::string_view off, std::string_view on) {
    if (position == off || position == on) {
        return position == on;
    }
    return std::nullopt;
}

template <class T>
bool put(T& where, const std::optional<T>& what) {
    if (what) {
        where = *what;
    }
    return what.has_value();
}

bool turn_volume(UnitControls& controls, std::string_view position) {
    if (position == "zero") {
        controls.volume_zero = true;
        return true;
    }
    const std::optional<double> mark = position == "maximum" ? 0.0 : volume_mark(position);
    if (mark) {
        controls.volume_zero = false;
    }
    return put(controls.volume_decibels, mark);
}

/// A switch that is in or out.
bool* switch_called(UnitControls& controls, std::string_view control) {
    if (control == "loudness") {
        return &controls.loudness;
    }
    if (control == "rumble_filter") {
        return &controls.rumble_filter;
    }
    if (control == "high_filter") {
        return &controls.high_filter;
    }
    if (control == "subsonic_filter") {
        return &controls.subsonic_filter;
    }
    if (control == "muting") {
        return &controls.muting;
    }
    if (control == "tape_monitor") {
        return &controls.tape_monitor;
    }
    return nullptr;
}

}  // namespace

bool turn(UnitControls& controls, std::string_view control, std::string_view position) {
    if (control == "volume") {
        return turn_volume(controls, position);
    }
    if (control == "path") {
        return put(controls.direct, either(position, "tone", "direct"));
    }
    if (control == "tone") {
        return put(controls.direct, either(position, "flat", "defeat"));
    }
    if (control == "bass") {
        return put(controls.bass, knob(position));
    }
    if (control == "treble") {
        return put(controls.treble, knob(position));
    }
    if (control == "input") {
        return put(controls.phono, either(position, "line", "phono"));
    }
    if (control == "speakers") {
        return put(controls.speakers, speakers(position));
    }
    if (control == "balance") {
        return put(controls.balance_decibels, position == "centre" ? std::optional<double>{0.0}
                                                                   : decibels_in(position, 120.0));
    }
    if (control == "mode") {
        return put(controls.mono, either(position, "stereo", "mono"));
    }
    if (control == "jumpers") {
        return put(controls.joined, jumpers(position));
    }
    if (bool* in = switch_called(controls, control)) {
        return put(*in, either(position, "out", "in"));
    }
    if (control == "leads") {
        return put(controls.looped, either(position, "unit", "loop"));
    }
    if (control == "output") {
        return put(controls.output, output(position));
    }
    return false;
}

void apply(const UnitControls& controls, UnitParameters& unit) {
    for (std::size_t c = 0; c < 2; ++c) {
        ChannelParameters& channel = unit.channels[c];
        if (controls.tape_monitor) {
            channel.line_gain = 0.0;
        }
        if (controls.muting) {
            channel.line_gain *= muted;
        }
        const double taken = (c == 0 ? 1.0 : -1.0) * controls.balance_decibels;
        if (taken > 0.0) {
            channel.line_gain *= amplitude_ratio(Gain{-taken}).in<AmplitudeRatio>();
        }
        if (!controls.joined[c]) {
            channel.hum_gain *= open_input_hum;
        }
    }
}

}  // namespace afterload::instruments
