#include "sequences/printed_words.hpp"

#include "sequences/diagnostic.hpp"
#include "sequences/utf8.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cctype>
#include <optional>
#include <utility>

namespace afterload::sequences {
namespace {

using Kind = PrintedWord::Kind;

constexpr std::size_t longest_line = 1000;

bool is_digit(char c) {
    return c >= '0' && c <= '9';
}

bool is_letter(char c) {
    return std::isalpha(static_cast<unsigned char>(c)) != 0;
}

std::string lower(std::string_view text) {
    std::string out{text};
    std::transform(out.begin(), out.end(), out.begin(),
                   [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
    return out;
}

struct Spelling {
    std::string_view printed;
    std::string_view symbol;
};

// As sheets print them; an m and an M are never taken for each other.
constexpr std::array spellings{
    Spelling{"Volt", "V"},      Spelling{"volt", "V"},    Spelling{"Volts", "V"},
    Spelling{"volts", "V"},     Spelling{"v", "V"},       Spelling{"mv", "mV"},
    Spelling{"Watt", "W"},      Spelling{"watt", "W"},    Spelling{"Watts", "W"},
    Spelling{"watts", "W"},     Spelling{"w", "W"},       Spelling{"Ohm", "ohm"},
    Spelling{"ohms", "ohm"},    Spelling{"Ohms", "ohm"},  Spelling{"OHM", "ohm"},
    Spelling{"OHMS", "ohm"},    Spelling{"k", "kohm"},    Spelling{"K", "kohm"},
    Spelling{"kohms", "kohm"},  Spelling{"kOhm", "kohm"}, Spelling{"kOhms", "kohm"},
    Spelling{"Kohm", "kohm"},   Spelling{"KOHM", "kohm"}, Spelling{"hz", "Hz"},
    Spelling{"HZ", "Hz"},       Spelling{"khz", "kHz"},   Spelling{"KHz", "kHz"},
    Spelling{"KHZ", "kHz"},     Spelling{"Khz", "kHz"},   Spelling{"db", "dB"},
    Spelling{"DB", "dB"},       Spelling{"dBs", "dB"},    Spelling{"percent", "%"},
    Spelling{"ma", "mA"},       Spelling{"sec", "s"},     Spelling{"seconds", "s"},
    Spelling{"minutes", "min"}, Spelling{"mins", "min"},  Spelling{"hour", "h"},
    Spelling{"hours", "h"},     Spelling{"hr", "h"},      Spelling{"hrs", "h"},
    Spelling{"µA", "uA"},       Spelling{"C", "degC"},
};

std::optional<std::string> unit_spelled(std::string_view printed) {
    for (const Spelling& each : spellings) {
        if (each.printed == printed) {
            return std::string{each.symbol};
        }
    }
    for (const Dimension dimension :
         {Dimension::volts, Dimension::ohms, Dimension::watts, Dimension::amperes, Dimension::hertz,
          Dimension::seconds, Dimension::celsius, Dimension::ratio}) {
        for (const std::string_view symbol : units_of(dimension)) {
            if (symbol == printed) {
                return std::string{symbol};
            }
        }
    }
    return std::nullopt;
}

struct Sign {
    std::string_view printed;
    Kind kind;
};

// The longer stand first: "+/-" is no plus.
constexpr std::array signs{
    Sign{"+/-", Kind::plus_minus}, Sign{"+-", Kind::plus_minus}, Sign{"±", Kind::plus_minus},
    Sign{"...", Kind::dash},       Sign{"..", Kind::dash},       Sign{"…", Kind::dash},
    Sign{"–", Kind::dash},         Sign{"—", Kind::dash},        Sign{"~", Kind::dash},
    Sign{"\u2212", Kind::minus},   Sign{"-", Kind::minus},       Sign{"+", Kind::plus},
    Sign{"/", Kind::slash},        Sign{"<=", Kind::below},      Sign{">=", Kind::above},
    Sign{"<", Kind::below},        Sign{">", Kind::above},       Sign{"≤", Kind::below},
    Sign{"≥", Kind::above},        Sign{"×", Kind::times},
};

constexpr std::array<std::string_view, 13> separators{" ", "\t", ",", ";", "(",      ")",     "[",
                                                      "]", "=",  ":", ".", "\u00a0", "\u202f"};

class Cutter {
public:
    explicit Cutter(std::string_view text) : text_{text} {}

    tl::expected<std::vector<PrintedWord>, TextMistake> words() {
        while (at_ < text_.size() && !wrong_) {
            if (!number() && !sign() && !separator() && !word()) {
                const std::size_t bytes = decode_utf8(text_.substr(at_)).bytes;
                wrong_ = TextMistake{fmt::format("“{}” does not belong in a figure",
                                                 escaped(text_.substr(at_, bytes))),
                                     "take it out"};
            }
        }
        if (wrong_) {
            return tl::unexpected(*std::move(wrong_));
        }
        return std::move(words_);
    }

private:
    [[nodiscard]] bool digit_at(std::size_t place) const {
        return place < text_.size() && is_digit(text_[place]);
    }
    [[nodiscard]] bool letter_at(std::size_t place) const {
        return place < text_.size() && is_letter(text_[place]);
    }

    bool number() {
        const bool begins = digit_at(at_) || (text_[at_] == '.' && digit_at(at_ + 1) &&
                                              (at_ == 0 || text_[at_ - 1] != '.'));
        if (!begins) {
            return false;
        }
        std::size_t end = at_;
        while (digit_at(end) || (end < text_.size() && (text_[end] == '.' || text_[end] == ',') &&
                                 digit_at(end + 1))) {
            ++end;
        }
        PrintedWord word;
        word.kind = Kind::number;
        std::string digits{text_.substr(at_, end - at_)};
        const std::size_t begin = at_;
        at_ = end;
        unit(word);
        word.printed = std::string{text_.substr(begin, at_ - begin)};
        if (digits.starts_with('.')) {
            digits.insert(0, "0");
        }
        word.text = without_commas(digits, word);
        words_.push_back(std::move(word));
        if (weighted_) {
            words_.push_back({Kind::word, "a", "", "A"});
            weighted_ = false;
        }
        // 4:1 is a ratio; any other colon means nothing.
        if (at_ + 1 < text_.size() && text_[at_] == ':' && digit_at(at_ + 1)) {
            words_.push_back({Kind::slash, "/", "", ":"});
            ++at_;
        }
        return true;
    }

    std::string without_commas(const std::string& digits, const PrintedWord& word) {
        const std::size_t comma = digits.find(',');
        if (comma == std::string::npos) {
            return digits;
        }
        std::string joined = digits;
        joined.erase(std::remove(joined.begin(), joined.end(), ','), joined.end());
        const bool several = digits.find(',', comma + 1) != std::string::npos;
        const bool point = digits.find('.') != std::string::npos;
        const bool thousands =
            comma <= 3 && digits.front() != '0' && (digits.size() == comma + 4 || several || point);
        const bool hertz = word.unit.ends_with("Hz");
        if (thousands && (hertz || several || point)) {
            return joined;
        }
        if (thousands) {
            wrong_ = TextMistake{fmt::format("“{}” may be {} or {}", word.printed, joined,
                                             std::string{digits}.replace(comma, 1, ".")),
                                 "write it without the comma"};
        }
        return std::string{digits}.replace(comma, 1, ".");
    }

    /// The unit behind a number, with or without a blank.
    void unit(PrintedWord& word) {
        std::size_t begin = at_;
        while (begin < text_.size() && text_[begin] == ' ') {
            ++begin;
        }
        std::size_t end = begin;
        while (end < text_.size()) {
            const std::size_t bytes = decode_utf8(text_.substr(end)).bytes;
            const std::string_view letter = text_.substr(end, bytes);
            const bool of_a_unit = is_letter(letter.front()) || letter == "%" || letter == "Ω" ||
                                   letter == "\u2126" || letter == "µ" || letter == "μ" ||
                                   letter == "°";
            if (!of_a_unit) {
                break;
            }
            end += bytes;
        }
        const std::string_view printed = text_.substr(begin, end - begin);
        if (const auto symbol = unit_spelled(printed)) {
            word.unit = *symbol;
            at_ = end;
            if (*symbol == "kohm" && printed.size() == 1) {
                ohms_behind();
            }
            if (*symbol == "dB" && text_.substr(at_).starts_with("(A)")) {
                at_ += 3;
                weighted_ = true;
            }
        } else if (printed == "dBA") {
            word.unit = "dB";
            at_ = end;
            weighted_ = true;
        } else if (text_.substr(begin).starts_with("c/s")) {
            word.unit = "Hz";
            at_ = begin + 3;
        }
    }

    /// "47 k ohms".
    void ohms_behind() {
        std::size_t begin = at_;
        while (begin < text_.size() && (text_[begin] == ' ' || text_[begin] == '-')) {
            ++begin;
        }
        for (const std::string_view ohm : {"ohms", "ohm", "Ohms", "Ohm", "OHMS", "OHM", "Ω"}) {
            if (text_.substr(begin).starts_with(ohm)) {
                at_ = begin + ohm.size();
                return;
            }
        }
    }

    bool sign() {
        for (const Sign& each : signs) {
            if (text_.substr(at_).starts_with(each.printed)) {
                words_.push_back(
                    {each.kind, std::string{each.printed}, "", std::string{each.printed}});
                at_ += each.printed.size();
                return true;
            }
        }
        return false;
    }

    bool separator() {
        for (const std::string_view each : separators) {
            if (text_.substr(at_).starts_with(each)) {
                at_ += each.size();
                return true;
            }
        }
        return false;
    }

    bool word() {
        if (text_[at_] == '@' || text_[at_] == '&') {
            words_.push_back({Kind::word, text_[at_] == '@' ? "at" : "and", "",
                              std::string{text_.substr(at_, 1)}});
            ++at_;
            return true;
        }
        if (!is_letter(text_[at_])) {
            return false;
        }
        std::size_t end = at_;
        if (lower(text_.substr(at_, 3)) == "s/n" && !letter_at(at_ + 3)) {
            end = at_ + 3;
        } else {
            while (end < text_.size() &&
                   (is_letter(text_[end]) || is_digit(text_[end]) || text_[end] == '_' ||
                    ((text_[end] == '.' || text_[end] == '-') && letter_at(end + 1)) ||
                    (text_[end] == '-' && digit_at(end + 1)))) {
                ++end;
            }
        }
        if ((text_[at_] == 'x' || text_[at_] == 'X') && digit_at(at_ + 1)) {
            end = at_ + 1;  // 2x45 W
        }
        const std::string printed{text_.substr(at_, end - at_)};
        at_ = end;
        const std::string small = lower(printed);
        words_.push_back({small == "x" ? Kind::times : Kind::word, small, "", printed});
        return true;
    }

    std::string_view text_;
    std::size_t at_ = 0;
    bool weighted_ = false;  ///< the unit was dB(A)
    std::vector<PrintedWord> words_;
    std::optional<TextMistake> wrong_;
};

}  // namespace

tl::expected<std::vector<PrintedWord>, TextMistake> printed_words(std::string_view text) {
    if (text.size() > longest_line) {
        return tl::unexpected(
            TextMistake{fmt::format("{} letters are more than a sheet prints beside one figure",
                                    characters(text)),
                        "one figure at a time"});
    }
    return Cutter{text}.words();
}

std::string bare_name(std::string_view name) {
    std::string out;
    for (const char c : name) {
        if (c != '-' && c != '_' && c != ' ' && c != '.') {
            out += static_cast<char>(c >= 'A' && c <= 'Z' ? c - 'A' + 'a' : c);
        }
    }
    return out;
}

}  // namespace afterload::sequences
