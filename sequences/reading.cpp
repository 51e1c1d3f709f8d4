#include "sequences/reading.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>

namespace afterload::sequences {

namespace {

constexpr std::size_t longest_text = 4000;
constexpr int least_line_of_file = 1;

std::string with_note(const std::string& what, const Node& node) {
    return node.note.empty() ? what : what + " (" + node.note + ")";
}

std::string quoted(std::string_view text) {
    constexpr std::size_t shown = 60;
    const std::string cut = escaped(text.substr(0, shown));
    return "“" + cut + (text.size() > shown ? "…”" : "”");
}

std::string_view what_it_is(const Node& node) {
    switch (node.kind) {
        case Node::Kind::empty:
            return "nothing";
        case Node::Kind::scalar:
            return "a single value";
        case Node::Kind::list:
            return "a list";
        case Node::Kind::mapping:
            return "a mapping";
    }
    return "nothing";
}

std::string joined(const std::vector<std::string_view>& words) {
    std::string out;
    for (std::size_t i = 0; i < words.size(); ++i) {
        out += i == 0 ? "" : i + 1 == words.size() ? " or " : ", ";
        out += words[i];
    }
    return out;
}

// Those of `known` that have `word` as one of their parts: relay, relay_clicks.
std::vector<std::string_view> with_part(std::string_view word,
                                        const std::vector<std::string_view>& known) {
    std::vector<std::string_view> found;
    for (const std::string_view one : known) {
        const std::string parts = fmt::format("_{}_", one);
        if (parts.find(fmt::format("_{}_", word)) != std::string::npos) {
            found.push_back(one);
        }
    }
    return found;
}

std::string nearest_or_all(std::string_view word, const std::vector<std::string_view>& known) {
    const std::string_view near = nearest(word, known);
    if (!near.empty()) {
        return fmt::format("nearest: {}", near);
    }
    const auto related = with_part(word, known);
    return fmt::format("write {}", joined(related.empty() ? known : related));
}

}  // namespace

void Reading::mistake(const Node& at, const std::string& what, std::string advice) {
    if (at.refused) {
        return;
    }
    diagnostics_.add(source_.mistake(at.place, at.width, with_note(what, at), std::move(advice),
                                     std::max(at.block_line, least_line_of_file)));
}

void Reading::mistake(const Entry& at, std::string what, std::string advice) {
    diagnostics_.add(
        source_.mistake(at.place, at.width, std::move(what), std::move(advice), at.place.line));
}

void Reading::mistake(std::string what) {
    Mistake without_place;
    without_place.what = std::move(what);
    diagnostics_.add(std::move(without_place));
}

void Reading::unknown_key(const Entry& entry, const std::vector<std::string_view>& known) {
    mistake(entry, fmt::format("{} is not known here", quoted(entry.key)),
            nearest_or_all(entry.key, known));
}

void Reading::unknown_word(const Node& node, std::string_view noun,
                           const std::vector<std::string_view>& known) {
    mistake(node, fmt::format("{} is not {}", quoted(node.text), noun),
            nearest_or_all(node.text, known));
}

bool Reading::is_scalar(const Node& node, std::string_view noun) {
    if (node.kind == Node::Kind::scalar && !node.text.empty()) {
        return !node.refused;
    }
    mistake(node, fmt::format("{} is due here, not {}", noun,
                              node.kind == Node::Kind::scalar ? "nothing" : what_it_is(node)));
    return false;
}

bool Reading::is_list(const Node& node, std::string_view noun) {
    if (node.kind == Node::Kind::list) {
        return true;
    }
    mistake(
        node, fmt::format("{} is due here, not {}", noun, what_it_is(node)),
        node.kind == Node::Kind::scalar ? "write it in brackets, or below with a dash: - ..." : "");
    return false;
}

bool Reading::is_mapping(const Node& node, std::string_view noun) {
    if (node.kind == Node::Kind::mapping) {
        return true;
    }
    std::string advice;
    if (node.kind == Node::Kind::scalar && node.text.find(':') != std::string::npos) {
        advice = "write a space after the colon";
    } else if (node.kind == Node::Kind::scalar) {
        advice = "write keys with values: key: value";
    }
    mistake(node, fmt::format("{} is due here, not {}", noun, what_it_is(node)), std::move(advice));
    return false;
}

std::optional<double> Reading::quantity(const Node& node, Dimension dimension,
                                        std::string_view noun, Range range) {
    if (!is_scalar(node, noun)) {
        return std::nullopt;
    }
    const auto value = read_quantity(node.text, dimension, noun);
    if (!value) {
        mistake(node, value.error().what, value.error().advice);
        return std::nullopt;
    }
    if (!(*value >= range.low && *value <= range.high)) {
        mistake(node,
                fmt::format("{} is no {}: {} to {}", escaped(node.text),
                            noun.substr(noun.find(' ') + 1), quantity_text(range.low, dimension),
                            quantity_text(range.high, dimension)));
        return std::nullopt;
    }
    return *value;
}

std::optional<int> Reading::integer(const Node& node, std::string_view noun, int low, int high) {
    if (!is_scalar(node, noun)) {
        return std::nullopt;
    }
    const auto value = read_integer(node.text, noun);
    if (!value) {
        mistake(node, fmt::format("{}, {} to {}", value.error().what, low, high),
                value.error().advice);
        return std::nullopt;
    }
    if (*value < low || *value > high) {
        mistake(node, fmt::format("{} is not {}: {} to {}", escaped(node.text), noun, low, high));
        return std::nullopt;
    }
    return static_cast<int>(*value);
}

std::optional<std::uint64_t> Reading::count(const Node& node, std::string_view noun) {
    if (!is_scalar(node, noun)) {
        return std::nullopt;
    }
    const auto value = read_integer(node.text, noun);
    if (!value || *value < 0) {
        mistake(node,
                fmt::format("{} is not {}: a whole number, 0 or above", quoted(node.text), noun));
        return std::nullopt;
    }
    return static_cast<std::uint64_t>(*value);
}

std::optional<bool> Reading::boolean(const Node& node, std::string_view noun) {
    if (!is_scalar(node, noun)) {
        return std::nullopt;
    }
    if (node.text == "true" || node.text == "false") {
        return node.text == "true";
    }
    mistake(node, fmt::format("{} is not {}", quoted(node.text), noun), "write true or false");
    return std::nullopt;
}

std::optional<std::string> Reading::words(const Node& node, std::string_view noun) {
    if (!is_scalar(node, noun)) {
        return std::nullopt;
    }
    if (node.text.size() > longest_text) {
        mistake(node, fmt::format("{} has more than {} bytes", noun, longest_text));
        return std::nullopt;
    }
    return node.text;
}

std::optional<Band> Reading::band(const Node& node, std::string_view noun) {
    if (!is_scalar(node, noun)) {
        return std::nullopt;
    }
    const auto value = read_band(node.text, noun);
    if (!value) {
        mistake(node, value.error().what,
                node.text.find("..") == std::string::npos ? "write it as 20 Hz..20 kHz"
                                                          : value.error().advice);
        return std::nullopt;
    }
    return *value;
}

std::optional<LevelTarget> Reading::level(const Node& node, LevelUse use, std::string_view noun) {
    if (!is_scalar(node, noun)) {
        return std::nullopt;
    }
    const auto value = read_level(node.text, use, noun);
    if (!value) {
        mistake(node, value.error().what, value.error().advice);
        return std::nullopt;
    }
    return *value;
}

std::optional<std::string> Reading::date(const Node& node, std::string_view noun) {
    if (!is_scalar(node, noun)) {
        return std::nullopt;
    }
    const std::string& text = node.text;
    const auto number = [&text](std::size_t from, std::size_t length) {
        int value = -1;
        const char* const begin = text.data() + from;
        const auto [last, error] = std::from_chars(begin, begin + length, value);
        return error == std::errc{} && last == begin + length ? value : -1;
    };
    bool good = text.size() == 10 && text[4] == '-' && text[7] == '-';
    if (good) {
        const int year = number(0, 4);
        const int month = number(5, 2);
        const int day = number(8, 2);
        constexpr int days[] = {31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
        const bool leap = (year % 4 == 0 && year % 100 != 0) || year % 400 == 0;
        good = year >= 1950 && month >= 1 && month <= 12 && day >= 1 && day <= days[month - 1] &&
               (month != 2 || day < 29 || leap);
    }
    if (!good) {
        mistake(node, fmt::format("{} is not {}", quoted(text), noun), "write it as 2026-03-02");
        return std::nullopt;
    }
    return text;
}

std::optional<std::string> Reading::identifier(const Node& node, std::string_view noun) {
    if (!is_scalar(node, noun)) {
        return std::nullopt;
    }
    constexpr std::size_t longest = 64;
    const auto fits = [](char c) {
        return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') ||
               c == '_' || c == '-';
    };
    if (node.text.size() > longest || !std::all_of(node.text.begin(), node.text.end(), fits)) {
        mistake(node, fmt::format("{} is not {}", quoted(node.text), noun),
                "letters, digits, _ and -, at most 64");
        return std::nullopt;
    }
    return node.text;
}

std::vector<std::string> Reading::list_of_words(const Node& node, std::string_view noun) {
    std::vector<std::string> all;
    if (!is_list(node, noun)) {
        return all;
    }
    for (const Node& item : node.items) {
        if (auto text = words(item, "a text")) {
            all.push_back(std::move(*text));
        }
    }
    return all;
}

std::optional<std::string> Reading::word_of(const Node& node, std::string_view noun,
                                            const std::vector<std::string_view>& known) {
    if (!is_scalar(node, noun)) {
        return std::nullopt;
    }
    if (std::find(known.begin(), known.end(), node.text) == known.end()) {
        unknown_word(node, noun, known);
        return std::nullopt;
    }
    return node.text;
}

bool kind_is(Reading& reading, const Node& root, std::string_view kind) {
    const std::string wanted = fmt::format("afterload: {}", kind);
    if (root.kind == Node::Kind::empty) {
        reading.mistake(fmt::format("the file is empty: it begins with “{}”", wanted));
        return false;
    }
    if (!reading.is_mapping(root, fmt::format("a file that begins with “{}”", wanted))) {
        return false;
    }
    const Node* const found = root.find("afterload");
    if (found == nullptr) {
        reading.mistake(root,
                        fmt::format("the file does not say what it is: “{}” is missing", wanted),
                        fmt::format("begin with {}", wanted));
        return false;
    }
    if (found->kind == Node::Kind::scalar && found->text == kind) {
        return true;
    }
    const std::string_view name = kind.substr(0, kind.find('/'));
    if (found->kind == Node::Kind::scalar && found->text.starts_with(fmt::format("{}/", name))) {
        reading.mistake(
            *found,
            fmt::format("{} is a version that this program does not read", quoted(found->text)),
            fmt::format("write {}", kind));
    } else {
        reading.mistake(
            *found,
            fmt::format("{} is not a {} file",
                        found->kind == Node::Kind::scalar ? quoted(found->text) : "this", name),
            fmt::format("a {} file begins with {}", name, wanted));
    }
    return false;
}

}  // namespace afterload::sequences
