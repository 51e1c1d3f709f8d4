#include "analysis/level.hpp"
#include "sequences/diagnostic.hpp"
#include "sequences/printed_reading.hpp"

#include <fmt/format.h>

#include <cmath>

namespace afterload::sequences {
namespace {

bool of_two_tones(FigureKind kind) {
    return kind == FigureKind::modulation_distortion ||
           kind == FigureKind::difference_frequency_distortion;
}

bool is_hertz(const PrintedWord& word) {
    return word.unit.ends_with("Hz");
}

}  // namespace

void PrintedReading::number() {
    if (twice() || fraction() || ratio_of_tones() || range()) {
        return;
    }
    const PrintedWord word = words_[at_];
    ++at_;
    quantity(word, 1.0);
    after_slash_ = false;
    into_ = false;
}

bool PrintedReading::twice() {
    if (dimension_ != Dimension::watts) {
        return false;
    }
    const PrintedWord& first = words_[at_];
    if (ahead_is(1, Kind::plus) && ahead_is(2, Kind::number)) {
        const PrintedWord second = *ahead(2);
        PrintedWord one = first;
        one.unit = one.unit.empty() ? second.unit : one.unit;
        if (one.text != second.text || one.unit != second.unit) {
            fail(fmt::format("{} and {} are two powers", first.printed, second.printed),
                 "write the lower one; it is the one that both channels reach");
            return true;
        }
        at_ += 3;
        both_channels_of(one);
        return true;
    }
    if (ahead_is(1, Kind::times) && ahead_is(2, Kind::number)) {
        const bool count_first = first.unit.empty();
        const PrintedWord count = count_first ? first : *ahead(2);
        const PrintedWord one = count_first ? *ahead(2) : first;
        if (count.text != "2") {
            fail(fmt::format("“{} x” is not two channels", count.printed), example());
            return true;
        }
        at_ += 3;
        both_channels_of(one);
        return true;
    }
    return false;
}

void PrintedReading::both_channels_of(const PrintedWord& one) {
    quantity(one, 1.0);
    set(out_.rated.conditions.channels_driven, Channels::both, "which channels are driven");
}

bool PrintedReading::fraction() {
    if (!words_[at_].unit.empty() || !ahead_is(1, Kind::slash) || !ahead_is(2, Kind::number) ||
        !ahead(2)->unit.empty() || !(ahead_is_word(3, "rated") || ahead_is_word(3, "power"))) {
        return false;
    }
    const auto level = read_level(fmt::format("{}/{} rated", words_[at_].text, ahead(2)->text),
                                  LevelUse::rating, "a level");
    if (!level) {
        fail(level.error().what, level.error().advice);
        return true;
    }
    at_ += 4;
    while (ahead_is_word(0, "power") || ahead_is_word(0, "output")) {
        ++at_;
    }
    this->level(*level);
    return true;
}

bool PrintedReading::ratio_of_tones() {
    const bool ratio = words_[at_].unit.empty() && ahead_is(1, Kind::slash) &&
                       ahead_is(2, Kind::number) && ahead(2)->unit.empty();
    if (!of_two_tones(kind_) || (!ratio && !is_hertz(words_[at_]))) {
        return false;
    }
    out_.beside.push_back(ratio ? fmt::format("{}:{}", words_[at_].text, ahead(2)->text)
                                : words_[at_].printed);
    at_ += ratio ? 3 : 1;
    return true;
}

bool PrintedReading::range() {
    const bool joined = ahead_is(1, Kind::dash) || ahead_is_word(1, "to") ||
                        ahead_is_word(1, "through") ||
                        (ahead_is(1, Kind::minus) && !is_decibels(words_[at_]));
    if (!joined || !ahead_is(2, Kind::number) ||
        is_decibels(*ahead(2)) != is_decibels(words_[at_])) {
        return false;
    }
    PrintedWord low = words_[at_];
    const PrintedWord high = *ahead(2);
    at_ += 3;
    if (low.unit.empty() && is_hertz(high) && high.unit != "Hz") {
        // "20-20 kHz" can only mean 20 Hz; "10-50 kHz" may mean either.
        if (std::stod(low.text) < std::stod(high.text)) {
            fail(fmt::format("“{}-{}” may begin at {} Hz or at {} {}", low.printed, high.printed,
                             low.text, low.text, high.unit),
                 fmt::format("write {} Hz-{}", low.text, high.printed));
            return true;
        }
        low.unit = "Hz";
    }
    low.unit = low.unit.empty() ? high.unit : low.unit;
    if (is_hertz(high)) {
        band(low, high);
        return true;
    }
    if (!has_unit(high, dimension_) && dimension_ != Dimension::number) {
        fail(fmt::format("“{} to {}” is no range of this figure", low.printed, high.printed),
             example());
        return true;
    }
    range_of(si(low, dimension_), si(high, dimension_));
    return true;
}

void PrintedReading::range_of(double low, double high) {
    if (!wrong_ && low >= high) {
        fail("the lower end of a range stands first", example());
    }
    set(range_, std::pair{low, high}, "the range");
}

void PrintedReading::band(const PrintedWord& low, const PrintedWord& high) {
    const Band band{Hertz{si(low, Dimension::hertz)}, Hertz{si(high, Dimension::hertz)}};
    if (wrong_) {
        return;
    }
    if (band.low >= band.high) {
        fail(fmt::format("the band {}-{} is empty", low.printed, high.printed),
             "the lower frequency stands first: 20 Hz-20 kHz");
        return;
    }
    Conditions& conditions = out_.rated.conditions;
    if (dimension_ == Dimension::hertz) {
        range_of(band.low.in<Hertz>(), band.high.in<Hertz>());
    } else if (bandwidth_ || ahead_is_word(0, "bandwidth") || ahead_is_word(0, "bw") ||
               is_noise(kind_)) {
        bandwidth_ = false;
        set(conditions.bandwidth, band, "the bandwidth");
    } else {
        set(conditions.tone_range, band, "the band");
    }
}

void PrintedReading::signed_number() {
    const bool negative = words_[at_].kind == Kind::minus;
    if (!ahead_is(1, Kind::number)) {
        fail(fmt::format("no number follows “{}”", words_[at_].printed), example());
        return;
    }
    PrintedWord first = *ahead(1);
    std::size_t by = 2;
    while (ahead_is(by, Kind::slash) || ahead_is(by, Kind::dash) || ahead_is_word(by, "to")) {
        ++by;
    }
    const bool pair =
        (ahead_is(by, Kind::plus) || ahead_is(by, Kind::minus)) && ahead_is(by + 1, Kind::number);
    if (!pair) {
        at_ += 2;
        quantity(first, negative ? -1.0 : 1.0);
        return;
    }
    PrintedWord second = *ahead(by + 1);
    const bool second_negative = ahead(by)->kind == Kind::minus;
    at_ += by + 2;
    if (negative == second_negative) {
        fail("a tolerance has one end above and one below", example());
        return;
    }
    first.unit = first.unit.empty() ? second.unit : first.unit;
    second.unit = second.unit.empty() ? first.unit : second.unit;
    set_tolerance(negative ? PrintedTolerance{second, first} : PrintedTolerance{first, second});
}

void PrintedReading::plus_minus() {
    if (!ahead_is(1, Kind::number)) {
        fail("no number follows “±”", example());
        return;
    }
    const PrintedWord width = *ahead(1);
    at_ += 2;
    set_tolerance({width, width});
}

void PrintedReading::set_tolerance(PrintedTolerance tolerance) {
    if (tolerance_) {
        fail("two tolerances", "one figure at a time; the others are asked for next");
        return;
    }
    if (tolerance.up.unit.empty() && dimension_ != Dimension::number) {
        fail(fmt::format("{} has no unit", tolerance.up.printed), example());
        return;
    }
    tolerance_ = std::move(tolerance);
}

void PrintedReading::quantity(const PrintedWord& word, double sign) {
    if (word.unit.empty()) {
        bare_number(word, sign);
    } else if (has_unit(word, Dimension::watts)) {
        watts(word);
    } else if (has_unit(word, Dimension::volts)) {
        volts(word, sign);
    } else if (has_unit(word, Dimension::hertz)) {
        hertz(word);
    } else if (has_unit(word, Dimension::ohms)) {
        ohms(word);
    } else if (word.unit == "%" || word.unit == "ppm") {
        per_cent(word);
    } else if (is_decibels(word)) {
        decibels(word, sign);
    } else if (has_unit(word, Dimension::seconds)) {
        seconds(word);
    } else if (dimension_ == Dimension::amperes || dimension_ == Dimension::celsius) {
        own_value(si(word, dimension_, sign));
    } else if (has_unit(word, Dimension::celsius)) {
        set(out_.rated.conditions.ambient, Celsius{si(word, Dimension::celsius, sign)},
            "the ambient temperature");
    } else {
        fail(fmt::format("“{}” does not belong to this figure", word.printed), example());
    }
}

void PrintedReading::bare_number(const PrintedWord& word, double sign) {
    const bool nothing_yet = !value_ && !range_;
    if (dimension_ == Dimension::number && nothing_yet) {
        own_value(si(word, Dimension::number, sign));
    } else if (ahead_is(0, Kind::plus_minus) && ahead_is(1, Kind::number) && nothing_yet) {
        PrintedWord with_unit = word;  // 0 ± 50 mV
        with_unit.unit = ahead(1)->unit;
        own_value(si(with_unit, dimension_, sign));
    } else {
        const auto units = units_of(dimension_);
        fail(fmt::format("{} has no unit", word.printed),
             dimension_ == Dimension::number
                 ? example()
                 : fmt::format("write {} {}", word.text, units.front()));
    }
}

void PrintedReading::level(LevelTarget level) {
    Conditions& conditions = out_.rated.conditions;
    if (reference_ || kind_ == FigureKind::signal_to_noise) {
        set(conditions.reference_level, level, "what it refers to");
    } else {
        set(conditions.output_level, level, "the level");
    }
}

void PrintedReading::watts(const PrintedWord& word) {
    const double value = si(word, Dimension::watts);
    if (dimension_ == Dimension::watts) {
        own_value(value);
    } else if (!wrong_) {
        level({LevelTarget::Kind::output_power, value});
    }
}

void PrintedReading::volts(const PrintedWord& word, double sign) {
    const bool in = ahead_is_word(0, "in") || ahead_is_word(0, "input");
    const bool out = ahead_is_word(0, "out") || ahead_is_word(0, "output");
    const bool own = dimension_ == Dimension::volts || dimension_ == Dimension::volts_dc;
    const double value =
        si(word, dimension_ == Dimension::volts_dc ? Dimension::volts_dc : Dimension::volts, sign);
    if (wrong_) {
        return;
    }
    if (own && !value_ && !reference_) {
        own_value(value);
        at_ += in || out ? 1 : 0;
    } else if (kind_ == FigureKind::gain && (in || out)) {
        ++at_;
        set(in ? volts_in_ : volts_out_, value, "the voltage");
    } else if (kind_ == FigureKind::quiescent_current) {
        set(volts_across_, value, "the voltage across the resistor");
    } else if (kind_ == FigureKind::supply_rail || kind_ == FigureKind::mains_power ||
               kind_ == FigureKind::relay_delay) {
        set(out_.rated.conditions.mains_voltage, value, "the mains voltage");
    } else if (in || out) {
        ++at_;
        level({in ? LevelTarget::Kind::drive_volts : LevelTarget::Kind::output_volts, value});
    } else if (kind_ == FigureKind::signal_to_noise) {
        constexpr double no_output = 0.1;  // no output is referred to so little
        if (value >= no_output) {
            fail(fmt::format("{}: at the input or at the output?", word.printed),
                 fmt::format("write {} in, or {} out", word.printed, word.printed));
            return;
        }
        level({LevelTarget::Kind::drive_volts, value});
    } else {
        level({LevelTarget::Kind::output_volts, value});
    }
}

void PrintedReading::hertz(const PrintedWord& word) {
    const Hertz value{si(word, Dimension::hertz)};
    Conditions& conditions = out_.rated.conditions;
    if (wrong_) {
        return;
    }
    if (bandwidth_ || ahead_is_word(0, "bandwidth") || ahead_is_word(0, "bw")) {
        fail(fmt::format("a bandwidth of {} lacks its other end", word.printed),
             fmt::format("write bandwidth 20 Hz-{}", word.printed));
    } else if (dimension_ == Dimension::hertz && !value_) {
        own_value(value.in<Hertz>());
    } else if (kind_ == FigureKind::frequency_response && reference_) {
        set(conditions.reference_frequency, value, "what it refers to");
    } else {
        set(conditions.frequency, value, "the frequency");
    }
}

void PrintedReading::ohms(const PrintedWord& word) {
    const double value = si(word, Dimension::ohms);
    Conditions& conditions = out_.rated.conditions;
    constexpr double least_input = 1000.0;
    if (wrong_) {
        return;
    }
    if (dimension_ == Dimension::ohms && !value_) {
        own_value(value);
    } else if (terminated_) {
        terminated_ = false;
        set(conditions.termination, quantity_text(value, Dimension::ohms), "the termination");
    } else if (kind_ == FigureKind::quiescent_current) {
        set(ohms_across_, value, "the resistor");
    } else if ((kind_ == FigureKind::input_sensitivity || kind_ == FigureKind::overload_level) &&
               (impedance_ || value >= least_input)) {
        out_.beside.push_back("input impedance " + quantity_text(value, Dimension::ohms));
    } else if (impedance_) {
        out_.beside.push_back("impedance " + quantity_text(value, Dimension::ohms));
    } else if (kind_ == FigureKind::output_voltage && after_slash_ && !into_) {
        fail(fmt::format("{}: the load, or what the output has itself?", word.printed),
             fmt::format("write into {}, or impedance {}", word.printed, word.printed));
    } else {
        set(conditions.load, Ohms{value}, "the load");
    }
    impedance_ = false;
}

void PrintedReading::per_cent(const PrintedWord& word) {
    const double value = si(word, Dimension::ratio);
    if (dimension_ == Dimension::ratio) {
        own_value(value);
    } else if (!wrong_) {
        set(out_.rated.conditions.thd, value, "the distortion");
    }
}

void PrintedReading::decibels(const PrintedWord& word, double sign) {
    if (dimension_ == Dimension::ratio && !value_) {
        PrintedWord below = word;  // a distortion of -80 dB, printed with or without the sign
        below.text = "-" + word.text;
        own_value(si(below, Dimension::ratio));
    } else if (dimension_ == Dimension::decibels) {
        negative_ = negative_ || sign < 0.0;
        own_value(si(word, Dimension::decibels, sign));
    } else if (kind_ == FigureKind::power_bandwidth) {
        const double level =
            power_ratio(Gain{-std::abs(si(word, Dimension::decibels))}).in<PowerRatio>();
        set(out_.rated.conditions.output_level,
            LevelTarget{LevelTarget::Kind::rated_fraction, level}, "the level");
    } else if (dimension_ == Dimension::hertz) {
        set(out_.rated.conditions.fall, Gain{-std::abs(si(word, Dimension::decibels))}, "the fall");
    } else {
        fail(fmt::format("“{}” does not belong to this figure", word.printed), example());
    }
}

void PrintedReading::seconds(const PrintedWord& word) {
    const double value = si(word, Dimension::seconds);
    if (dimension_ == Dimension::seconds && !value_) {
        own_value(value);
    } else if (dwell_) {
        set(out_.rated.conditions.dwell, Seconds{value}, "the dwell");
    } else {
        set(out_.rated.conditions.warm_up, Seconds{value}, "the warm-up");
    }
}

}  // namespace afterload::sequences
