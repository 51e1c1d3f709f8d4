#include "runner/papers/terminal_text.hpp"

#include "runner/papers/utf8_text.hpp"

#include <algorithm>
#include <array>
#include <utility>

namespace afterload::runner {

namespace {

std::string_view ascii_for(char32_t c) {
    static constexpr std::array<std::pair<char32_t, std::string_view>, 26> words{
        {{U'≤', "<="},     {U'≥', ">="},     {U'±', "+-"}, {U'Ω', "ohm"}, {U'\u2126', "ohm"},
         {U'µ', "u"},      {U'μ', "u"},      {U'’', "'"},  {U'‘', "'"},   {U'“', "\""},
         {U'”', "\""},     {U'…', "..."},    {U'–', "-"},  {U'—', "-"},   {U'\u2212', "-"},
         {U'\u202f', " "}, {U'\u00a0', " "}, {U'×', "x"},  {U'·', "."},   {U'²', "2"},
         {U'ä', "ae"},     {U'ö', "oe"},     {U'ü', "ue"}, {U'é', "e"},   {U'è', "e"},
         {U'ß', "ss"}}};
    for (const auto& [character, text] : words) {
        if (character == c) {
            return text;
        }
    }
    return "?";
}

std::string_view sequence_for(Emphasis emphasis) {
    switch (emphasis) {
        case Emphasis::bold:
            return "\x1b[1m";
        case Emphasis::faint:
            return "\x1b[2m";
        case Emphasis::underline:
            return "\x1b[4m";
        case Emphasis::inverse:
            return "\x1b[7m";
        case Emphasis::act:
            return "\x1b[35m";
        case Emphasis::plain:
            break;
    }
    return {};
}

/// The first characters of `text` that fit into `most` columns.
std::string_view head_of(std::string_view text, std::size_t most) {
    std::size_t taken = 0;
    std::size_t bytes = 0;
    while (bytes < text.size()) {
        const Utf8Character next = next_character(text.substr(bytes));
        if (taken + columns_of(next.code) > most) {
            break;
        }
        taken += columns_of(next.code);
        bytes += next.bytes;
    }
    return text.substr(0, bytes);
}

}  // namespace

std::string for_terminal(std::string_view text, const Terminal& terminal) {
    std::string out;
    out.reserve(text.size());
    for (std::size_t i = 0; i < text.size();) {
        const std::string_view rest = text.substr(i);
        const Utf8Character next = next_character(rest);
        i += next.bytes;
        if (next.code == U'\n' || next.code == U'\t' || next.code == U'\r') {
            out += ' ';
        } else if (!next.valid || is_control(next.code)) {
            out += '?';
        } else if (terminal.utf8 || next.code < 0x80) {
            out += rest.substr(0, next.bytes);
        } else if (next.code == U'°') {
            out += "deg";
        } else {
            out += ascii_for(next.code);
        }
    }
    return out;
}

std::size_t columns(std::string_view text) {
    std::size_t total = 0;
    for (std::size_t i = 0; i < text.size();) {
        const Utf8Character next = next_character(text.substr(i));
        total += columns_of(next.code);
        i += next.bytes;
    }
    return total;
}

std::string cut(std::string_view text, std::size_t most, const Terminal& terminal) {
    std::string clean = for_terminal(text, terminal);
    if (columns(clean) <= most) {
        return clean;
    }
    const std::string_view mark = terminal.utf8 ? "…" : "...";
    const std::size_t room = most > columns(mark) ? most - columns(mark) : 0;
    return std::string{head_of(clean, room)} + std::string{mark};
}

TextLine& TextLine::put(std::string_view text, Emphasis emphasis) {
    const std::string clean = for_terminal(text, *terminal_);
    if (clean.empty()) {
        return *this;
    }
    out_.append(blanks_, ' ');
    blanks_ = 0;
    const bool styled = terminal_->styled && emphasis != Emphasis::plain;
    if (styled) {
        out_ += sequence_for(emphasis);
    }
    out_ += clean;
    if (styled) {
        out_ += "\x1b[0m";
    }
    width_ += columns(clean);
    return *this;
}

TextLine& TextLine::to(std::size_t column) {
    const std::size_t target = width_ == 0 ? column : std::max(column, width_ + 1);
    if (target > width_) {
        blanks_ += target - width_;
        width_ = target;
    }
    return *this;
}

TextLine& TextLine::ending_at(std::size_t column, std::string_view text, Emphasis emphasis) {
    if (text.empty()) {
        return *this;
    }
    const std::size_t length = columns(for_terminal(text, *terminal_));
    to(column > length ? column - length : 0);
    return put(text, emphasis);
}

std::string TextLine::text() const {
    std::string line = out_;
    if (!terminal_->styled) {
        line.erase(line.find_last_not_of(' ') + 1);
    }
    return line + '\n';
}

std::string wrapped(std::string_view text, std::size_t indent, std::size_t hanging,
                    const Terminal& terminal, Emphasis emphasis) {
    const std::string clean = for_terminal(text, terminal);
    std::string out;
    std::string line;
    std::size_t margin = indent;
    const auto room = [&] { return terminal.width > margin + 1 ? terminal.width - margin : 1; };
    const auto flush = [&] {
        TextLine printed{terminal};
        printed.to(margin).put(line, emphasis);
        out += printed.text();
        line.clear();
        margin = hanging;
    };
    for (std::size_t i = 0; i < clean.size();) {
        const std::size_t start = clean.find_first_not_of(' ', i);
        if (start == std::string::npos) {
            break;
        }
        const std::size_t end = std::min(clean.find(' ', start), clean.size());
        std::string_view word = std::string_view{clean}.substr(start, end - start);
        const std::size_t gap = line.empty() ? 0 : std::min<std::size_t>(start - i, 2);
        if (!line.empty() && columns(line) + gap + columns(word) > room()) {
            flush();
        } else {
            line.append(gap, ' ');
        }
        while (columns(word) > room()) {
            const std::string_view piece = head_of(word, room());
            if (piece.empty()) {
                break;
            }
            line += piece;
            word.remove_prefix(piece.size());
            flush();
        }
        line += word;
        i = end;
    }
    if (!line.empty()) {
        flush();
    }
    return out;
}

}  // namespace afterload::runner
