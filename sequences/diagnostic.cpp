#include "sequences/diagnostic.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <tuple>
#include <utility>

namespace afterload::sequences {

namespace {

constexpr int columns = 80;
constexpr int columns_shown = 66;  // of a line of the file; with its number it fits in 80

constexpr std::size_t checkpoint = 1024;

bool begins_character(char byte) {
    return (static_cast<unsigned char>(byte) & 0xc0U) != 0x80U;
}

bool bidirectional(char32_t code) {
    return code == 0x061cU || code == 0x200eU || code == 0x200fU ||
           (code >= 0x202aU && code <= 0x202eU) || (code >= 0x2066U && code <= 0x2069U) ||
           code == 0x2028U || code == 0x2029U || code == 0xfeffU;
}

// One character as it may be shown, and the bytes it took.
std::pair<std::string, std::size_t> shown_character(std::string_view text) {
    const DecodedCharacter decoded = decode_utf8(text);
    const auto code = static_cast<unsigned>(decoded.code);
    if (!decoded.valid) {
        return {fmt::format("\\x{:02x}", code), 1};
    }
    if (code == '\t') {
        return {" ", 1};
    }
    if (code < 0x20U || code == 0x7fU) {
        return {fmt::format("\\x{:02x}", code), 1};
    }
    if ((code >= 0x80U && code < 0xa0U) || bidirectional(decoded.code)) {
        return {fmt::format("\\u{:04x}", code), decoded.bytes};
    }
    return {std::string{text.substr(0, decoded.bytes)}, decoded.bytes};
}

// A line cut to a window around the column of interest; `column` becomes the caret's column in it.
struct Excerpt {
    std::string text;
    int column = 1;
    int width = 1;
};

Excerpt excerpt(const Mistake::Line& of, int column, int width, const MistakeStyle& style) {
    std::string_view line = of.text;
    std::vector<std::string> shown;  // one element a column
    int caret = -1;
    int caret_end = -1;
    int character = 1;
    while (!line.empty()) {
        const auto [piece, bytes] = shown_character(line);
        if (character == column) {
            caret = static_cast<int>(shown.size());
        }
        if (character == column + width) {
            caret_end = static_cast<int>(shown.size());
        }
        const bool whole = piece.front() != '\\' || piece.size() == 1;
        if (whole) {
            shown.push_back(piece);
        } else {
            for (const char c : piece) {
                shown.emplace_back(1, c);
            }
        }
        line.remove_prefix(bytes);
        ++character;
    }
    const int length = static_cast<int>(shown.size());
    if (caret < 0) {
        caret = length + std::max(0, column - character);
    }
    if (caret_end < 0) {
        caret_end = std::max(caret + 1, length);
    }
    caret = std::min(caret, length);
    int first = 0;
    if (length > columns_shown) {
        first = std::clamp(caret - columns_shown / 3, 0, length - columns_shown);
    }
    const int last = std::min(length, first + columns_shown);
    Excerpt result;
    const std::string cut = style.utf8 ? "…" : "~";
    for (int i = first; i < last; ++i) {
        const bool is_cut =
            (i == first && (first > 0 || of.skipped > 0)) || (i == last - 1 && last < length);
        result.text += is_cut ? cut : shown[static_cast<std::size_t>(i)];
    }
    result.column = caret - first + 1;
    result.width = std::clamp(caret_end - caret, 1, std::max(1, last - caret));
    return result;
}

// The words from column `at` on, each before a space; lines after the first are set in.
std::string wrapped(std::string_view text, int at) {
    constexpr std::string_view set_in = "\n   ";
    std::string out;
    while (!text.empty()) {
        const std::size_t end = std::min(text.find(' '), text.size());
        const std::string_view word = text.substr(0, end);
        const int width = characters(word) + 1;
        if (at + width > columns && !out.empty()) {
            out += set_in;
            at = static_cast<int>(set_in.size()) - 1;
        }
        out += " ";
        out += word;
        at += width;
        text.remove_prefix(std::min(end + 1, text.size()));
    }
    return out;
}

std::string plain_quotes(std::string text) {
    const std::pair<std::string_view, std::string_view> replaced[] = {
        {"“", "\""}, {"”", "\""}, {"…", "..."}, {"Ω", "ohm"}, {"µ", "u"}, {"°", "deg"}, {"−", "-"}};
    for (const auto& [from, to] : replaced) {
        for (std::size_t at = text.find(from); at != std::string::npos;
             at = text.find(from, at + to.size())) {
            text.replace(at, from.size(), to);
        }
    }
    return text;
}

}  // namespace

void Diagnostics::add(Mistake mistake) {
    if (mistakes.size() >= most) {
        ++unshown;
    } else {
        mistakes.push_back(std::move(mistake));
    }
}

void Diagnostics::sort() {
    std::stable_sort(mistakes.begin(), mistakes.end(), [](const Mistake& a, const Mistake& b) {
        return std::tie(a.place.line, a.place.column) < std::tie(b.place.line, b.place.column);
    });
}

Diagnostics mistake_of_file(std::string path, std::string what) {
    Diagnostics file;
    file.path = std::move(path);
    Mistake mistake;
    mistake.what = std::move(what);
    file.add(std::move(mistake));
    return file;
}

SourceText::SourceText(std::string_view text) : text_{text} {
    starts_.push_back(0);
    int begun = 0;
    for (std::size_t i = 0; i < text.size(); ++i) {
        if (i % checkpoint == 0) {
            characters_before_.push_back(begun);
        }
        begun += begins_character(text[i]) ? 1 : 0;
        if (text[i] == '\n' && i + 1 < text.size()) {
            starts_.push_back(i + 1);
        }
    }
    characters_before_.push_back(begun);
}

int SourceText::characters_before(std::size_t byte) const {
    const std::size_t mark = std::min(byte / checkpoint, characters_before_.size() - 1);
    int count = characters_before_[mark];
    for (std::size_t i = mark * checkpoint; i < std::min(byte, text_.size()); ++i) {
        count += begins_character(text_[i]) ? 1 : 0;
    }
    return count;
}

std::string_view SourceText::line(int number) const {
    if (number < 1 || number > lines()) {
        return {};
    }
    const std::size_t start = starts_[static_cast<std::size_t>(number - 1)];
    std::string_view line = text_.substr(start);
    line = line.substr(0, line.find('\n'));
    if (line.ends_with('\r')) {
        line.remove_suffix(1);
    }
    if (number == 1 && line.starts_with("\xef\xbb\xbf")) {
        line.remove_prefix(3);
    }
    return line;
}

Place SourceText::place_of(std::size_t byte) const {
    const auto after = std::upper_bound(starts_.begin(), starts_.end(), byte);
    const auto index = static_cast<std::size_t>(after - starts_.begin()) - 1;
    return place_of(static_cast<int>(index), static_cast<int>(byte - starts_[index]));
}

Place SourceText::place_of(int line_from_0, int byte_from_0) const {
    if (line_from_0 >= lines()) {
        return {line_from_0 + 1, byte_from_0 + 1};
    }
    const std::size_t start = starts_[static_cast<std::size_t>(line_from_0)];
    const std::size_t byte = start + static_cast<std::size_t>(byte_from_0);
    return {line_from_0 + 1, characters_before(byte) - characters_before(start) + 1};
}

namespace {

// A line can be as long as the file; more than the neighbourhood of the column is never shown.
Mistake::Line part_around(std::string_view whole, int number, int column) {
    constexpr int kept_before = 200;
    constexpr std::size_t kept_bytes = 4096;
    Mistake::Line line{number, {}, 0};
    while (whole.size() > kept_bytes && line.skipped < column - kept_before) {
        whole.remove_prefix(decode_utf8(whole).bytes);
        ++line.skipped;
    }
    line.text = whole.substr(0, kept_bytes);
    return line;
}

}  // namespace

Mistake SourceText::mistake(Place place, int width, std::string what, std::string advice,
                            int first_context) const {
    Mistake mistake;
    mistake.place = place;
    mistake.width = width;
    mistake.what = std::move(what);
    mistake.advice = std::move(advice);
    const int first = std::max({place.line - 2, first_context, 1});
    for (int number = first; number <= std::min(place.line, lines()); ++number) {
        const std::string_view whole = line(number);
        if (number < place.line && whole.find_first_not_of(" \t") == std::string_view::npos) {
            mistake.lines.clear();  // what stands before a blank line belongs to something else
            continue;
        }
        mistake.lines.push_back(
            part_around(whole, number, number == place.line ? place.column : 1));
    }
    return mistake;
}

std::string text(const Diagnostics& diagnostics, const MistakeStyle& style) {
    const std::string on = style.colour ? "\x1b[35m" : "";
    const std::string off = style.colour ? "\x1b[0m" : "";
    std::string out;
    const std::string path = escaped(diagnostics.path);
    for (const Mistake& mistake : diagnostics.mistakes) {
        std::string place = path;
        if (mistake.place.line > 0) {
            place += fmt::format(":{}:{}", mistake.place.line, mistake.place.column);
        }
        place += ":";
        out += fmt::format("{}{}{}:{}\n", on, place.substr(0, place.size() - 1), off,
                           wrapped(mistake.what, characters(place)));
        Excerpt last;
        for (const Mistake::Line& line : mistake.lines) {
            const bool marked = line.number == mistake.place.line;
            const Excerpt shown = excerpt(line, marked ? mistake.place.column - line.skipped : 1,
                                          marked ? mistake.width : 1, style);
            out += fmt::format("   {:>2} | {}\n", line.number, shown.text);
            if (marked) {
                last = shown;
            }
        }
        const bool marked =
            !mistake.lines.empty() && mistake.lines.back().number == mistake.place.line;
        if (marked) {
            const std::size_t number_width =
                std::max<std::size_t>(2, std::to_string(mistake.place.line).size());
            out += fmt::format("   {} | {}{}^{}{}", std::string(number_width, ' '),
                               std::string(static_cast<std::size_t>(last.column - 1), ' '), on,
                               std::string(static_cast<std::size_t>(last.width - 1), '~'), off);
            const int marks = static_cast<int>(number_width) + 6 + last.column + last.width;
            const bool beside = marks + characters(mistake.advice) <= columns;
            if (mistake.advice.empty()) {
                out += "\n";
            } else if (beside) {
                out += " " + mistake.advice + "\n";
            } else {
                out += "\n   " + std::string(number_width, ' ') + " | " + mistake.advice + "\n";
            }
        } else if (!mistake.advice.empty()) {
            out += "      | " + mistake.advice + "\n";
        }
    }
    if (diagnostics.unshown > 0) {
        out += fmt::format("{}: and {} more\n", path, diagnostics.unshown);
    }
    return style.utf8 ? out : plain_quotes(std::move(out));
}

std::string count_line(std::size_t mistakes, std::size_t files, int exit_status) {
    const std::string left =
        fmt::format("{} {} in {} {}; nothing was driven.", mistakes,
                    mistakes == 1 ? "mistake" : "mistakes", files, files == 1 ? "file" : "files");
    const std::string right = fmt::format("exit status {}", exit_status);
    return fmt::format("{}{:>{}}", left, right,
                       std::max(right.size() + 1, 80 - std::min<std::size_t>(left.size(), 80)));
}

std::string escaped(std::string_view text) {
    std::string out;
    while (!text.empty()) {
        const auto [piece, bytes] = shown_character(text);
        out += piece;
        text.remove_prefix(bytes);
    }
    return out;
}

namespace {

// Edits in halves: a letter that differs only in case is half an edit. Words are short; longer ones
// are not compared, so that a hostile key costs nothing.
constexpr std::size_t longest_word = 64;

int half_edits(std::string_view a, std::string_view b) {
    const std::size_t width = b.size() + 1;
    std::vector<int> before(width);
    std::vector<int> above(width);
    std::vector<int> row(width);
    for (std::size_t j = 0; j < width; ++j) {
        above[j] = static_cast<int>(2 * j);
    }
    for (std::size_t i = 1; i <= a.size(); ++i) {
        row[0] = static_cast<int>(2 * i);
        for (std::size_t j = 1; j <= b.size(); ++j) {
            const auto lower = [](char c) { return std::tolower(static_cast<unsigned char>(c)); };
            const bool same_letter = lower(a[i - 1]) == lower(b[j - 1]);
            const int change = a[i - 1] == b[j - 1] ? 0 : same_letter ? 1 : 2;
            row[j] = std::min({above[j] + 2, row[j - 1] + 2, above[j - 1] + change});
            if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1]) {
                row[j] = std::min(row[j], before[j - 2] + 2);
            }
        }
        before = above;
        above = row;
    }
    return above[b.size()];
}

bool same_but_for_case(std::string_view a, std::string_view b) {
    return a != b && std::equal(a.begin(), a.end(), b.begin(), b.end(), [](char x, char y) {
               return std::tolower(static_cast<unsigned char>(x)) ==
                      std::tolower(static_cast<unsigned char>(y));
           });
}

}  // namespace

std::string_view nearest(std::string_view word, const std::vector<std::string_view>& known) {
    if (word.empty() || word.size() > longest_word) {
        return {};
    }
    const int letters = characters(word);
    int best = letters < 2 ? 2 : 2 * std::max(1, letters / 3) + 1;
    std::string_view found;
    for (const std::string_view candidate : known) {
        const int edits = same_but_for_case(word, candidate) ? 1 : half_edits(word, candidate);
        if (edits < best) {
            best = edits;
            found = candidate;
        }
    }
    return found;
}

}  // namespace afterload::sequences
