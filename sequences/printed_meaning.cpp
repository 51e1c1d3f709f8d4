#include "analysis/level.hpp"
#include "sequences/diagnostic.hpp"
#include "sequences/printed_reading.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <span>

namespace afterload::sequences {
namespace {

std::string list(const std::vector<std::string>& names) {
    return escaped(fmt::format("{}", fmt::join(names, ", ")));
}

}  // namespace

void PrintedReading::phrase() {
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

bool PrintedReading::named(const std::vector<std::string>& names, std::optional<std::string>& slot,
                           std::string_view noun) {
    std::string joined;
    for (std::size_t count = 1; count <= 3 && ahead_is(count - 1, Kind::word); ++count) {
        joined += bare_name(ahead(count - 1)->text);
        const auto same = std::find_if(names.begin(), names.end(), [&](const std::string& name) {
            return bare_name(name) == joined;
        });
        if (same != names.end()) {
            at_ += count;
            set(slot, *same, noun);
            return true;
        }
    }
    return false;
}

void PrintedReading::unknown() {
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

void PrintedReading::mean(const PrintedPhrase& phrase, std::size_t begin) {
    Conditions& conditions = out_.rated.conditions;
    using enum PrintedMeaning;
    switch (phrase.meaning) {
        case nothing:
            dwell_ = dwell_ || phrase.words == "dwell";
            return;
        case letter_a:
            if (!is_noise(kind_)) {
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
            if (is_noise(kind_)) {
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

void PrintedReading::weighting(Weighting weighting) {
    if (!is_noise(kind_) && kind_ != FigureKind::thd_plus_noise && kind_ != FigureKind::sinad) {
        fail("only noise is weighted", example());
        return;
    }
    set(out_.rated.conditions.weighting, weighting, "the weighting");
}

void PrintedReading::rated_level() {
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

}  // namespace afterload::sequences
