#include "sequences/printed_figure.hpp"

#include "analysis/level.hpp"
#include "sequences/diagnostic.hpp"
#include "sequences/printed_phrases.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <span>
#include <utility>

namespace afterload::sequences {
namespace {

using Kind = PrintedWord::Kind;

/// Figures that say how far something is off, above or below nothing.
bool around_zero(FigureKind kind) {
    switch (kind) {
        case FigureKind::frequency_response:
        case FigureKind::channel_balance:
        case FigureKind::level_linearity:
        case FigureKind::equalisation_error:
        case FigureKind::volume_tracking:
        case FigureKind::dc_offset:
            return true;
        default:
            return false;
    }
}

bool of_noise(FigureKind kind) {
    return kind == FigureKind::noise_voltage || kind == FigureKind::signal_to_noise ||
           kind == FigureKind::hum_voltage;
}

bool of_two_tones(FigureKind kind) {
    return kind == FigureKind::modulation_distortion ||
           kind == FigureKind::difference_frequency_distortion;
}

bool is_decibels(const PrintedWord& word) {
    return word.unit == "dB";
}
bool is_hertz(const PrintedWord& word) {
    return word.unit.ends_with("Hz");
}

bool has_unit(const PrintedWord& word, Dimension dimension) {
    const auto units = units_of(dimension);
    return std::find(units.begin(), units.end(), word.unit) != units.end();
}

/// Four digits: what a tolerance in decibels leaves of a voltage.
double rounded(double value) {
    if (value == 0.0) {
        return value;
    }
    const double step = std::pow(10.0, std::floor(std::log10(std::abs(value))) - 3.0);
    return std::round(value / step) * step;
}

/// "Speaker-A" and "speaker_a" are one name.
std::string bare_name(std::string_view name) {
    std::string out;
    for (const char c : name) {
        if (c != '-' && c != '_' && c != ' ' && c != '.') {
            out += static_cast<char>(c >= 'A' && c <= 'Z' ? c - 'A' + 'a' : c);
        }
    }
    return out;
}

std::string list(const std::vector<std::string>& names) {
    return escaped(fmt::format("{}", fmt::join(names, ", ")));
}

/// How far above and below a nominal value a reading may be.
struct Tolerance {
    PrintedWord up;
    PrintedWord down;
};

/// Goes through the words once, from left to right.
class Understanding {
public:
    Understanding(std::vector<PrintedWord> words, FigureKind kind, const PrintedNames& names)
        : words_{std::move(words)}, kind_{kind}, names_{names}, dimension_{dimension_of(kind)} {
        out_.rated.figure = kind;
    }

    void read() {
        while (at_ < words_.size() && !wrong_) {
            step();
        }
        Conditions& conditions = out_.rated.conditions;
        if (saw_rms_ && conditions.weighting == Weighting::itu_r_468) {
            conditions.detector = Detector::rms;
        }
        if (!wrong_ && reference_ && !conditions.reference_level &&
            !conditions.reference_frequency) {
            fail("what it refers to is missing behind “re”",
                 "write re rated, re 1 W or re 5 mV in");
        }
    }

    tl::expected<PrintedFigure, TextMistake> figure() {
        if (!wrong_) {
            compose();
        }
        if (wrong_) {
            return tl::unexpected(*std::move(wrong_));
        }
        return std::move(out_);
    }

    /// The conditions alone; a value of the figure is then too much.
    tl::expected<Conditions, TextMistake> conditions() {
        if (!wrong_ && (value_ || range_ || tolerance_)) {
            fail("that is the figure itself, not the condition that is asked for", "");
        }
        if (wrong_) {
            return tl::unexpected(*std::move(wrong_));
        }
        return std::move(out_.rated.conditions);
    }

private:
    void fail(std::string what, std::string advice) {
        if (!wrong_) {
            wrong_ = TextMistake{std::move(what), std::move(advice)};
        }
    }
    [[nodiscard]] std::string example() const {
        return fmt::format("write it as {}", printed_example(kind_));
    }
    [[nodiscard]] const PrintedWord* ahead(std::size_t by) const {
        return at_ + by < words_.size() ? &words_[at_ + by] : nullptr;
    }
    [[nodiscard]] bool ahead_is(std::size_t by, Kind kind) const {
        const PrintedWord* const word = ahead(by);
        return word != nullptr && word->kind == kind;
    }
    [[nodiscard]] bool ahead_is_word(std::size_t by, std::string_view text) const {
        return ahead_is(by, Kind::word) && ahead(by)->text == text;
    }

    template <class T>
    void set(std::optional<T>& slot, T value, std::string_view noun) {
        if (slot && *slot != value) {
            fail(fmt::format("{} stands there twice, and not the same", noun),
                 "one figure at a time; the others are asked for next");
            return;
        }
        slot = std::move(value);
    }

    double si(const PrintedWord& word, Dimension dimension, double sign = 1.0) {
        const auto value = read_quantity(
            word.unit.empty() ? word.text : fmt::format("{} {}", word.text, word.unit), dimension,
            "the value");
        if (!value) {
            fail(value.error().what, value.error().advice);
            return 0.0;
        }
        return sign * *value;
    }

    void step() {
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

    void side(Bound::Side side) { set(side_, side, "the direction of the limit"); }

    // ---- numbers

    void number() {
        if (twice() || fraction() || ratio_of_tones() || range()) {
            return;
        }
        const PrintedWord word = words_[at_];
        ++at_;
        quantity(word, 1.0);
        after_slash_ = false;
        into_ = false;
    }

    /// "45 W + 45 W", "2 x 45 W", "45 W x 2": two channels, and both were driven.
    bool twice() {
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

    void both_channels_of(const PrintedWord& one) {
        quantity(one, 1.0);
        set(out_.rated.conditions.channels_driven, Channels::both, "which channels are driven");
    }

    /// "1/2 rated power", "1/8 rated".
    bool fraction() {
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

    /// "60 Hz/7 kHz, 4:1" of two tones: kept in words.
    bool ratio_of_tones() {
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

    /// "20 Hz-20 kHz", "20-20,000 Hz", "126 to 178 mV".
    bool range() {
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
                fail(fmt::format("“{}-{}” may begin at {} Hz or at {} {}", low.printed,
                                 high.printed, low.text, low.text, high.unit),
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

    void range_of(double low, double high) {
        if (!wrong_ && low >= high) {
            fail("the lower end of a range stands first", example());
        }
        set(range_, std::pair{low, high}, "the range");
    }

    void band(const PrintedWord& low, const PrintedWord& high) {
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
                   of_noise(kind_)) {
            bandwidth_ = false;
            set(conditions.bandwidth, band, "the bandwidth");
        } else {
            set(conditions.tone_range, band, "the band");
        }
    }

    /// +0/-1.5 dB, -50 mV to +50 mV, -3 dB.
    void signed_number() {
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
        const bool pair = (ahead_is(by, Kind::plus) || ahead_is(by, Kind::minus)) &&
                          ahead_is(by + 1, Kind::number);
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
        set_tolerance(negative ? Tolerance{second, first} : Tolerance{first, second});
    }

    void plus_minus() {
        if (!ahead_is(1, Kind::number)) {
            fail("no number follows “±”", example());
            return;
        }
        const PrintedWord width = *ahead(1);
        at_ += 2;
        set_tolerance({width, width});
    }

    void set_tolerance(Tolerance tolerance) {
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

    /// A number with its unit: the figure's own value, or the condition that this unit belongs to.
    void quantity(const PrintedWord& word, double sign) {
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

    void own_value(double value) { set(value_, value, "the value"); }

    void bare_number(const PrintedWord& word, double sign) {
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

    void level(LevelTarget level) {
        Conditions& conditions = out_.rated.conditions;
        if (reference_ || kind_ == FigureKind::signal_to_noise) {
            set(conditions.reference_level, level, "what it refers to");
        } else {
            set(conditions.output_level, level, "the level");
        }
    }

    void watts(const PrintedWord& word) {
        const double value = si(word, Dimension::watts);
        if (dimension_ == Dimension::watts) {
            own_value(value);
        } else if (!wrong_) {
            level({LevelTarget::Kind::output_power, value});
        }
    }

    void volts(const PrintedWord& word, double sign) {
        const bool in = ahead_is_word(0, "in") || ahead_is_word(0, "input");
        const bool out = ahead_is_word(0, "out") || ahead_is_word(0, "output");
        const bool own = dimension_ == Dimension::volts || dimension_ == Dimension::volts_dc;
        const double value = si(
            word, dimension_ == Dimension::volts_dc ? Dimension::volts_dc : Dimension::volts, sign);
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

    void hertz(const PrintedWord& word) {
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

    void ohms(const PrintedWord& word) {
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
        } else if ((kind_ == FigureKind::input_sensitivity ||
                    kind_ == FigureKind::overload_level) &&
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

    void per_cent(const PrintedWord& word) {
        const double value = si(word, Dimension::ratio);
        if (dimension_ == Dimension::ratio) {
            own_value(value);
        } else if (!wrong_) {
            set(out_.rated.conditions.thd, value, "the distortion");
        }
    }

    void decibels(const PrintedWord& word, double sign) {
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
            set(out_.rated.conditions.fall, Gain{-std::abs(si(word, Dimension::decibels))},
                "the fall");
        } else {
            fail(fmt::format("“{}” does not belong to this figure", word.printed), example());
        }
    }

    void seconds(const PrintedWord& word) {
        const double value = si(word, Dimension::seconds);
        if (dimension_ == Dimension::seconds && !value_) {
            own_value(value);
        } else if (dwell_) {
            set(out_.rated.conditions.dwell, Seconds{value}, "the dwell");
        } else {
            set(out_.rated.conditions.warm_up, Seconds{value}, "the warm-up");
        }
    }

    // ---- words

    void phrase() {
        // The unit's own names come first: an input may be called "a".
        if (words_[at_].text != "input" && words_[at_].text != "output" &&
            (named(names_.inputs, out_.rated.conditions.input, "the input") ||
             named(names_.outputs, out_.rated.conditions.output, "the output"))) {
            return;
        }
        const auto found = printed_phrase(std::span<const PrintedWord>{words_}.subspan(at_));
        if (!found) {
            unknown();
            return;
        }
        const std::size_t begin = at_;
        at_ += found->taken;
        mean(*found->phrase, begin);
    }

    bool named(const std::vector<std::string>& names, std::optional<std::string>& slot,
               std::string_view noun) {
        std::string joined;
        for (std::size_t count = 1; count <= 3 && ahead_is(count - 1, Kind::word); ++count) {
            joined += bare_name(ahead(count - 1)->text);
            const auto same =
                std::find_if(names.begin(), names.end(),
                             [&](const std::string& name) { return bare_name(name) == joined; });
            if (same != names.end()) {
                at_ += count;
                set(slot, *same, noun);
                return true;
            }
        }
        return false;
    }

    void unknown() {
        const PrintedWord& word = words_[at_];
        const bool position =
            kind_ == FigureKind::quiescent_current || kind_ == FigureKind::supply_rail;
        if (position && word.text.find_first_of("0123456789") != std::string::npos) {
            out_.beside.push_back("at " + word.printed);  // R733
            ++at_;
            return;
        }
        if (word.text == "across" && position) {
            ++at_;
            return;
        }
        std::vector<std::string_view> known = printed_phrase_words();
        known.insert(known.end(), names_.inputs.begin(), names_.inputs.end());
        known.insert(known.end(), names_.outputs.begin(), names_.outputs.end());
        const std::string_view near = nearest(word.text, known);
        const std::string shown = escaped(word.printed.substr(0, 60));
        static const std::vector<std::string_view> inputs{"phono", "mm",   "mc", "line", "aux",
                                                          "tuner", "tape", "cd", "main"};
        if (std::find(inputs.begin(), inputs.end(), word.text) != inputs.end()) {
            fail(fmt::format("the unit has no input “{}”", shown),
                 fmt::format("its inputs: {}", list(names_.inputs)));
            return;
        }
        fail(fmt::format("“{}” was not understood", shown),
             near.empty() ? example() : fmt::format("nearest: {}; {}", escaped(near), example()));
    }

    void mean(const PrintedPhrase& phrase, std::size_t begin) {
        Conditions& conditions = out_.rated.conditions;
        using enum PrintedMeaning;
        switch (phrase.meaning) {
            case nothing:
                dwell_ = dwell_ || phrase.words == "dwell";
                return;
            case letter_a:
                if (!of_noise(kind_)) {
                    return;
                }
                [[fallthrough]];
            case weighting_a:
                weighting(Weighting::a);
                return;
            case weighting_none:
                weighting(Weighting::unweighted);
                return;
            case weighting_468:
                weighting(Weighting::itu_r_468);
                return;
            case flat:
                if (of_noise(kind_)) {
                    weighting(Weighting::unweighted);
                    return;
                }
                [[fallthrough]];
            case tone_flat:
                set(conditions.tone_controls, std::string{"flat"}, "the tone controls");
                return;
            case quasi_peak:
                set(conditions.detector, Detector::quasi_peak, "the detector");
                return;
            case rms:
                saw_rms_ = true;
                return;
            case both_channels:
                set(conditions.channels_driven, Channels::both, "which channels are driven");
                return;
            case left_channel:
                set(conditions.channels_driven, Channels::left, "which channels are driven");
                return;
            case right_channel:
                set(conditions.channels_driven, Channels::right, "which channels are driven");
                return;
            case shorted:
                set(conditions.termination, std::string{"shorted"}, "the termination");
                return;
            case open:
                set(conditions.termination, std::string{"open"}, "the termination");
                return;
            case terminated:
                terminated_ = true;
                return;
            case volume_maximum:
                set(conditions.volume, std::string{"maximum"}, "the volume");
                return;
            case volume_zero:
                set(conditions.volume, std::string{"zero"}, "the volume");
                return;
            case maximum:
                side(Bound::Side::at_most);
                return;
            case minimum:
                side(Bound::Side::at_least);
                return;
            case better:
                if (afterload::better(kind_) == Better::neither) {
                    fail("which side is better is not plain here", "write less than, or more than");
                    return;
                }
                side(afterload::better(kind_) == Better::smaller ? Bound::Side::at_most
                                                                 : Bound::Side::at_least);
                return;
            case direct:
                set(conditions.path, std::string{"direct"}, "the path");
                return;
            case rated:
                rated_level();
                return;
            case half_rated:
                level({LevelTarget::Kind::rated_fraction, 0.5});
                return;
            case reference:
                reference_ = true;
                return;
            case bandwidth:
                bandwidth_ = kind_ != FigureKind::power_bandwidth && !conditions.bandwidth;
                return;
            case impedance:
                impedance_ = true;
                return;
            case into:
                into_ = true;
                return;
            case page:
                if (ahead_is(0, Kind::number)) {
                    out_.rated.source = "page " + words_[at_].text;
                    ++at_;
                } else {
                    fail("no number follows “page”", "write page 3");
                }
                return;
            case to:
            case in:
            case out:
                return;
            case unclear:
                fail(fmt::format("“{}” is not plain", escaped(words_[begin].printed)),
                     std::string{phrase.advice});
                return;
        }
    }

    void weighting(Weighting weighting) {
        if (!of_noise(kind_) && kind_ != FigureKind::thd_plus_noise && kind_ != FigureKind::sinad) {
            fail("only noise is weighted", example());
            return;
        }
        set(out_.rated.conditions.weighting, weighting, "the weighting");
    }

    /// "rated", "rated - 3 dB".
    void rated_level() {
        double ratio = 1.0;
        if (ahead_is(0, Kind::minus) && ahead_is(1, Kind::number) && is_decibels(*ahead(1))) {
            ratio = power_ratio(Gain{-si(*ahead(1), Dimension::decibels)}).in<PowerRatio>();
            at_ += 2;
        }
        if (dimension_ == Dimension::watts) {
            return;  // "rated output power 45 W"
        }
        level({LevelTarget::Kind::rated_fraction, ratio});
    }

    // ---- the limit

    void compose() {
        if (!value_ && volts_in_ && volts_out_ && *volts_in_ > 0.0 && *volts_out_ > 0.0) {
            value_ =
                std::round(100.0 * gain_of(AmplitudeRatio{*volts_out_ / *volts_in_}).decibels()) /
                100.0;
            out_.beside.push_back("from the two voltages");
        }
        across_a_resistor();
        if (wrong_) {
            return;
        }
        if (kind_ == FigureKind::tone_range_error) {
            tone_range();
        } else if (around_zero(kind_)) {
            about_zero();
        } else if (range_) {
            limit_of_range();
        } else if (!value_) {
            fail("the value is missing", example());
        } else if (better(kind_) == Better::neither) {
            about_nominal();
        } else {
            one_sided();
        }
    }

    /// An idle current is printed as what stands across a resistor.
    void across_a_resistor() {
        if (!volts_across_) {
            return;
        }
        if (!ohms_across_ || *ohms_across_ <= 0.0) {
            fail("a voltage across a resistor is an idle current only with its ohms",
                 "write it as 12 mV across 0.33 ohm");
            return;
        }
        const auto amperes = [&](double volts) { return rounded(volts / *ohms_across_); };
        out_.beside.push_back(fmt::format("{} across {}",
                                          quantity_text(*volts_across_, Dimension::volts),
                                          quantity_text(*ohms_across_, Dimension::ohms)));
        if (tolerance_ && has_unit(tolerance_->up, Dimension::volts)) {
            const double up = si(tolerance_->up, Dimension::volts);
            const double down = si(tolerance_->down, Dimension::volts);
            range_ = std::pair{amperes(*volts_across_ - down), amperes(*volts_across_ + up)};
            tolerance_.reset();
        } else {
            value_ = amperes(*volts_across_);
        }
    }

    /// ±10 dB is the boost and the cut; how far they may be off is hardly ever printed.
    void tone_range() {
        if (!tolerance_ && !value_) {
            fail("the value is missing", example());
            return;
        }
        out_.beside.push_back(
            "boost and cut of " +
            (tolerance_ ? tolerance_->up.printed : quantity_text(std::abs(*value_), dimension_)));
        out_.rated.limit.nominal = 0.0;
    }

    void about_zero() {
        Limit& limit = out_.rated.limit;
        const Dimension own = dimension_;
        if (value_ && *value_ == 0.0 && tolerance_) {
            value_.reset();
        }
        if (range_) {
            limit = {range_->first, range_->second, std::nullopt};
        } else if (tolerance_) {
            limit = {-si(tolerance_->down, own), si(tolerance_->up, own), std::nullopt};
        } else if (!value_) {
            fail("how far it may be off is missing", example());
        } else if (kind_ == FigureKind::frequency_response && negative_) {
            limit.at_least = *value_;
        } else if (kind_ == FigureKind::frequency_response && side_ != Bound::Side::at_most) {
            fail(fmt::format("{}: above, below, or both?", quantity_text(*value_, own)),
                 "write ±1 dB, or +0/-1 dB");
        } else {
            const double width = std::abs(*value_);
            limit = {-width, width, std::nullopt};
        }
        if (value_ && tolerance_) {
            fail("a value and a tolerance: which is the limit?", example());
        }
    }

    void limit_of_range() {
        Limit& limit = out_.rated.limit;
        if (kind_ == FigureKind::power_bandwidth) {
            limit.at_most = range_->first;
            out_.upper_end = Limit{range_->second, std::nullopt, std::nullopt};
            return;
        }
        if (value_) {
            fail("a value and a range: which is the limit?", example());
            return;
        }
        limit = {range_->first, range_->second, std::nullopt};
    }

    void one_sided() {
        const Bound::Side due =
            better(kind_) == Better::smaller ? Bound::Side::at_most : Bound::Side::at_least;
        if (side_ && *side_ != due) {
            fail(due == Bound::Side::at_most ? "this figure is the better the smaller it is"
                                             : "this figure is the better the larger it is",
                 example());
            return;
        }
        if (tolerance_) {
            if (dimension_ == Dimension::volts || dimension_ == Dimension::watts) {
                about_nominal();
            } else {
                fail("this figure has one limit and no tolerance", example());
            }
            return;
        }
        // A separation or a ratio may be printed with the minus of a level.
        const double value = dimension_ == Dimension::decibels ? std::abs(*value_) : *value_;
        (due == Bound::Side::at_most ? out_.rated.limit.at_most : out_.rated.limit.at_least) =
            value;
    }

    void about_nominal() {
        Limit& limit = out_.rated.limit;
        if (side_) {
            (*side_ == Bound::Side::at_most ? limit.at_most : limit.at_least) = *value_;
            return;
        }
        limit.nominal = *value_;
        if (tolerance_) {
            auto whole = toleranced(limit, *tolerance_);
            if (whole) {
                limit = *whole;
            }
        }
    }

public:
    /// The limit around a nominal value.
    std::optional<Limit> toleranced(const Limit& nominal, const Tolerance& tolerance) {
        const double middle = *nominal.nominal;
        const PrintedWord& up = tolerance.up;
        const PrintedWord& down = tolerance.down;
        Limit limit;
        const bool decibels_of_volts =
            is_decibels(up) && (dimension_ == Dimension::volts || dimension_ == Dimension::watts);
        if (decibels_of_volts) {
            const auto times = [&](double decibels) {
                const Gain gain{decibels};
                return dimension_ == Dimension::watts ? power_ratio(gain).in<PowerRatio>()
                                                      : amplitude_ratio(gain).in<AmplitudeRatio>();
            };
            limit.at_least = rounded(middle * times(-si(down, Dimension::decibels)));
            limit.at_most = rounded(middle * times(si(up, Dimension::decibels)));
        } else if (up.unit == "%" && dimension_ != Dimension::ratio) {
            limit.at_least = rounded(middle - si(down, Dimension::ratio) * std::abs(middle));
            limit.at_most = rounded(middle + si(up, Dimension::ratio) * std::abs(middle));
        } else {
            limit.at_least = middle - si(down, dimension_);
            limit.at_most = middle + si(up, dimension_);
        }
        if (up.text == down.text) {
            limit.nominal = middle;
        }
        if (!wrong_ && *limit.at_least >= *limit.at_most) {
            fail("a tolerance of nothing: no reading would keep it",
                 "write it as ±1.5 dB or ±10 %");
        }
        return wrong_ ? std::nullopt : std::optional{limit};
    }
    [[nodiscard]] const std::optional<Tolerance>& tolerance() const { return tolerance_; }
    [[nodiscard]] const std::optional<TextMistake>& wrong() const { return wrong_; }

private:
    std::vector<PrintedWord> words_;
    std::size_t at_ = 0;
    FigureKind kind_;
    const PrintedNames& names_;
    Dimension dimension_;
    PrintedFigure out_;
    std::optional<TextMistake> wrong_;

    std::optional<double> value_;
    std::optional<std::pair<double, double>> range_;
    std::optional<Tolerance> tolerance_;
    std::optional<Bound::Side> side_;
    std::optional<double> volts_in_;
    std::optional<double> volts_out_;
    std::optional<double> volts_across_;
    std::optional<double> ohms_across_;
    bool negative_ = false;
    bool reference_ = false;
    bool bandwidth_ = false;
    bool terminated_ = false;
    bool impedance_ = false;
    bool into_ = false;
    bool after_slash_ = false;
    bool dwell_ = false;
    bool saw_rms_ = false;
};

/// What is put before an answer so that it means the condition that was asked for.
std::string_view lead_to(std::string_view key, std::string_view text) {
    if (key == "reference_level") {
        return "re ";
    }
    if (key == "bandwidth") {
        return "bandwidth ";
    }
    if (key == "volume") {
        return "volume ";
    }
    if (key == "termination" && text.find_first_of("0123456789") != std::string_view::npos) {
        return "terminated ";
    }
    return "";
}

}  // namespace

tl::expected<PrintedFigure, TextMistake> read_printed_figure(std::string_view text, FigureKind kind,
                                                             const PrintedNames& names) {
    auto words = printed_words(text);
    if (!words) {
        return tl::unexpected(std::move(words.error()));
    }
    Understanding understanding{*std::move(words), kind, names};
    understanding.read();
    return understanding.figure();
}

tl::expected<Conditions, TextMistake> read_printed_condition(std::string_view text,
                                                             std::string_view key, FigureKind kind,
                                                             const PrintedNames& names) {
    auto words = printed_words(fmt::format("{}{}", lead_to(key, text), text));
    if (!words) {
        return tl::unexpected(std::move(words.error()));
    }
    Understanding understanding{*std::move(words), kind, names};
    understanding.read();
    auto conditions = understanding.conditions();
    if (!conditions) {
        return conditions;
    }
    const bool over_a_range = key == "frequency" && conditions->tone_range;
    if (!over_a_range && !stated(*conditions, key)) {
        std::string asked{key};
        std::replace(asked.begin(), asked.end(), '_', ' ');
        return tl::unexpected(
            TextMistake{fmt::format("“{}” is no {}", escaped(text.substr(0, 60)), asked), ""});
    }
    return conditions;
}

tl::expected<Limit, TextMistake> with_tolerance(const Limit& nominal, std::string_view text,
                                                FigureKind kind) {
    const bool signed_already = text.find("±") != std::string_view::npos ||
                                text.find_first_of("+-") != std::string_view::npos;
    auto words = printed_words(fmt::format("{}{}", signed_already ? "" : "±", text));
    if (!words) {
        return tl::unexpected(std::move(words.error()));
    }
    const PrintedNames none;
    Understanding understanding{*std::move(words), kind, none};
    understanding.read();
    std::optional<Limit> limit;
    if (understanding.tolerance()) {
        limit = understanding.toleranced(nominal, *understanding.tolerance());
    }
    if (understanding.wrong()) {
        return tl::unexpected(*understanding.wrong());
    }
    if (!limit) {
        return tl::unexpected(
            TextMistake{fmt::format("“{}” is no tolerance", escaped(text.substr(0, 60))),
                        "write it as ±1.5 dB or ±10 %"});
    }
    return *limit;
}

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
