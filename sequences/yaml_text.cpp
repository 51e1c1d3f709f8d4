#include "sequences/yaml_text.hpp"

#include "sequences/diagnostic.hpp"
#include "sequences/utf8.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cctype>

namespace afterload::sequences {
namespace {

bool letter_or_digit(char c) {
    return std::isalnum(static_cast<unsigned char>(c)) != 0;
}

/// Words that a reader of YAML may take for something else than text.
bool reserved(std::string_view text) {
    std::string lower{text};
    std::transform(lower.begin(), lower.end(), lower.begin(),
                   [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
    constexpr std::array words{"true", "false", "yes", "no", "on", "off", "null", "y", "n"};
    return std::find(words.begin(), words.end(), lower) != words.end();
}

/// Letters, digits and what means nothing to YAML inside a text that begins with a letter.
bool plain(std::string_view text) {
    if (text.empty() || text.size() > 200 ||
        std::isalpha(static_cast<unsigned char>(text.front())) == 0 || text.back() == ' ' ||
        reserved(text)) {
        return false;
    }
    return std::all_of(text.begin(), text.end(), [](char c) {
        return letter_or_digit(c) ||
               std::string_view{" ._+-/()%;"}.find(c) != std::string_view::npos;
    });
}

/// Not printable, or a mark that turns the direction of what stands beside it.
bool must_be_escaped(char32_t code) {
    return code < 0x20U || (code >= 0x7fU && code < 0xa0U) || code == 0x061cU ||
           (code >= 0x200bU && code <= 0x200fU) || (code >= 0x2028U && code <= 0x202eU) ||
           (code >= 0x2060U && code <= 0x206fU) || code == 0xfeffU || code == 0xfffeU ||
           code == 0xffffU;
}

}  // namespace

std::string yaml_quoted(std::string_view text) {
    std::string out = "\"";
    while (!text.empty()) {
        const DecodedCharacter next = decode_utf8(text);
        const auto code = static_cast<unsigned>(next.code);
        if (!next.valid) {
            out += "\\ufffd";
        } else if (code == '"' || code == '\\') {
            out += '\\';
            out += text.front();
        } else if (must_be_escaped(next.code)) {
            out += fmt::format("\\u{:04x}", code);
        } else {
            out += text.substr(0, next.bytes);
        }
        text.remove_prefix(next.bytes);
    }
    return out + '"';
}

std::string yaml_value(std::string_view text) {
    return plain(text) ? std::string{text} : yaml_quoted(text);
}

std::string yaml_comment(std::string_view text, std::size_t indent) {
    return std::string(indent, ' ') + "# " + escaped(text) + "\n";
}

}  // namespace afterload::sequences
