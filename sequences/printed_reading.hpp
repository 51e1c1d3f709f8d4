/// A printed figure read from left to right: what printed_figure.hpp does, step by step.
///
/// Its parts lie in four sources: printed_reading.cpp goes through the words,
/// printed_quantities.cpp says which condition a number with its unit is, printed_meaning.cpp what
/// a word means, and printed_limit.cpp makes the limit of what was found.
#pragma once

#include "sequences/printed_figure.hpp"
#include "sequences/printed_phrases.hpp"
#include "sequences/printed_words.hpp"

#include <tl/expected.hpp>

#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace afterload::sequences {

/// How far above and below a nominal value a reading may be.
struct PrintedTolerance {
    PrintedWord up;
    PrintedWord down;
};

[[nodiscard]] bool is_noise(FigureKind kind);
[[nodiscard]] bool is_decibels(const PrintedWord& word);
[[nodiscard]] bool has_unit(const PrintedWord& word, Dimension dimension);

class PrintedReading {
public:
    PrintedReading(std::vector<PrintedWord> words, FigureKind kind, const PrintedNames& names);

    /// Goes through the words once; what is wrong is kept, and the first mistake ends it.
    void read();
    /// What was read, with its limit. To be asked for once, as conditions().
    tl::expected<PrintedFigure, TextMistake> figure();
    /// The conditions alone; a value of the figure is then too much.
    tl::expected<Conditions, TextMistake> conditions();
    /// The limit around a nominal value; nothing where the tolerance is none of this figure.
    std::optional<Limit> toleranced(const Limit& nominal, const PrintedTolerance& tolerance);
    [[nodiscard]] const std::optional<PrintedTolerance>& tolerance() const { return tolerance_; }
    [[nodiscard]] const std::optional<TextMistake>& wrong() const { return wrong_; }

private:
    using Kind = PrintedWord::Kind;

    void fail(std::string what, std::string advice);
    [[nodiscard]] std::string example() const;
    double si(const PrintedWord& word, Dimension dimension, double sign = 1.0);
    void step();
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
            fail(std::string{noun} + " stands there twice, and not the same",
                 "one figure at a time; the others are asked for next");
            return;
        }
        slot = std::move(value);
    }
    void side(Bound::Side side) { set(side_, side, "the direction of the limit"); }

    // printed_quantities.cpp
    void number();
    /// "45 W + 45 W", "2 x 45 W", "45 W x 2": two channels, and both were driven.
    bool twice();
    void both_channels_of(const PrintedWord& one);
    /// "1/2 rated power", "1/8 rated".
    bool fraction();
    /// "60 Hz/7 kHz, 4:1" of two tones: kept in words.
    bool ratio_of_tones();
    /// "20 Hz-20 kHz", "20-20,000 Hz", "126 to 178 mV".
    bool range();
    void range_of(double low, double high);
    void band(const PrintedWord& low, const PrintedWord& high);
    /// +0/-1.5 dB, -50 mV to +50 mV, -3 dB.
    void signed_number();
    void plus_minus();
    void set_tolerance(PrintedTolerance tolerance);
    /// A number with its unit: the figure's own value, or the condition that this unit belongs to.
    void quantity(const PrintedWord& word, double sign);
    void own_value(double value) { set(value_, value, "the value"); }
    void bare_number(const PrintedWord& word, double sign);
    void level(LevelTarget level);
    void watts(const PrintedWord& word);
    void volts(const PrintedWord& word, double sign);
    void hertz(const PrintedWord& word);
    void ohms(const PrintedWord& word);
    void per_cent(const PrintedWord& word);
    void decibels(const PrintedWord& word, double sign);
    void seconds(const PrintedWord& word);

    // printed_meaning.cpp
    void phrase();
    bool named(const std::vector<std::string>& names, std::optional<std::string>& slot,
               std::string_view noun);
    void unknown();
    void mean(const PrintedPhrase& phrase, std::size_t begin);
    void weighting(Weighting weighting);
    /// "rated", "rated - 3 dB".
    void rated_level();

    // printed_limit.cpp
    void compose();
    /// An idle current is printed as what stands across a resistor.
    void across_a_resistor();
    /// ±10 dB is the boost and the cut; how far they may be off is hardly ever printed.
    void tone_range();
    void about_zero();
    void limit_of_range();
    void one_sided();
    void about_nominal();

    std::vector<PrintedWord> words_;
    std::size_t at_ = 0;
    FigureKind kind_;
    const PrintedNames& names_;
    Dimension dimension_;
    PrintedFigure out_;
    std::optional<TextMistake> wrong_;

    std::optional<double> value_;
    std::optional<std::pair<double, double>> range_;
    std::optional<PrintedTolerance> tolerance_;
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

}  // namespace afterload::sequences
