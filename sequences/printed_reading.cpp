#include "sequences/printed_reading.hpp"

#include "sequences/diagnostic.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace afterload::sequences {

bool is_noise(FigureKind kind) {
    return kind == FigureKind::noise_voltage || kind == FigureKind::signal_to_noise ||
           kind == FigureKind::hum_voltage;
}

bool is_decibels(const PrintedWord& word) {
    return word.unit == "dB";
}

bool has_unit(const PrintedWord& word, Dimension dimension) {
    const auto units = units_of(dimension);
    return std::find(units.begin(), units.end(), word.unit) != units.end();
}

PrintedReading::PrintedReading(std::vector<PrintedWord> words, FigureKind kind,
                               const PrintedNames& names)
    : words_{std::move(words)}, kind_{kind}, names_{names}, dimension_{dimension_of(kind)} {
    out_.rated.figure = kind;
}

void PrintedReading::read() {
    while (at_ < words_.size() && !wrong_) {
        step();
    }
    Conditions& conditions = out_.rated.conditions;
    if (saw_rms_ && conditions.weighting == Weighting::itu_r_468) {
        conditions.detector = Detector::rms;
    }
    if (!wrong_ && reference_ && !conditions.reference_level && !conditions.reference_frequency) {
        fail("what it refers to is missing behind “re”", "write re rated, re 1 W or re 5 mV in");
    }
}

tl::expected<PrintedFigure, TextMistake> PrintedReading::figure() {
    if (!wrong_) {
        compose();
    }
    if (wrong_) {
        return tl::unexpected(*std::move(wrong_));
    }
    return std::move(out_);
}

tl::expected<Conditions, TextMistake> PrintedReading::conditions() {
    if (!wrong_ && (value_ || range_ || tolerance_)) {
        fail("that is the figure itself, not the condition that is asked for", "");
    }
    if (wrong_) {
        return tl::unexpected(*std::move(wrong_));
    }
    return std::move(out_.rated.conditions);
}

void PrintedReading::fail(std::string what, std::string advice) {
    if (!wrong_) {
        wrong_ = TextMistake{std::move(what), std::move(advice)};
    }
}

std::string PrintedReading::example() const {
    return fmt::format("write it as {}", printed_example(kind_));
}

double PrintedReading::si(const PrintedWord& word, Dimension dimension, double sign) {
    const auto value =
        read_quantity(word.unit.empty() ? word.text : fmt::format("{} {}", word.text, word.unit),
                      dimension, "the value");
    if (!value) {
        fail(value.error().what, value.error().advice);
        return 0.0;
    }
    return sign * *value;
}

void PrintedReading::step() {
    switch (words_[at_].kind) {
        case Kind::number:
            number();
            return;
        case Kind::plus:
        case Kind::minus:
            signed_number();
            return;
        case Kind::plus_minus:
            plus_minus();
            return;
        case Kind::below:
            side(Bound::Side::at_most);
            ++at_;
            return;
        case Kind::above:
            side(Bound::Side::at_least);
            ++at_;
            return;
        case Kind::slash:
            after_slash_ = true;
            ++at_;
            return;
        case Kind::dash:
        case Kind::times:
            fail(fmt::format("“{}” stands where nothing is to be joined",
                             escaped(words_[at_].printed)),
                 example());
            return;
        case Kind::word:
            phrase();
            return;
    }
}

}  // namespace afterload::sequences
