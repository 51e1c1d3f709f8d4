#include "instruments/unit_controls.hpp"

#include <charconv>
#include <optional>

namespace afterload::instruments {

namespace {

/// "-20 dB", "-20dB": decibels below maximum.
std::optional<double> volume_mark(std::string_view text) {
    double decibels = 0.0;
    const auto [rest, error] = std::from_chars(text.data(), text.data() + text.size(), decibels);
    if (error != std::errc{} || !(decibels <= 0.0 && decibels >= -120.0)) {
        return std::nullopt;
    }
    const std::string_view unit(rest, text.data() + text.size());
    if (unit != "dB" && unit != " dB") {
        return std::nullopt;
    }
    return decibels;
}

std::optional<KnobPosition> knob(std::string_view text) {
    if (text == "centre") {
        return KnobPosition::centre;
    }
    if (text == "maximum") {
        return KnobPosition::maximum;
    }
    if (text == "minimum") {
        return KnobPosition::minimum;
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
        return put(controls.speakers_b, either(position, "A", "B"));
    }
    if (control == "leads") {
        return put(controls.looped, either(position, "unit", "loop"));
    }
    if (control == "output") {
        return put(controls.output, output(position));
    }
    return false;
}

}  // namespace afterload::instruments
