#include "runner/papers/utf8_text.hpp"

namespace afterload::runner {

namespace {

bool within(char32_t code, char32_t first, char32_t last) {
    return first <= code && code <= last;
}

}  // namespace

Utf8Character next_character(std::string_view text) {
    const auto byte = [&](std::size_t i) -> char32_t {
        return static_cast<unsigned char>(text[i]);
    };
    const char32_t lead = byte(0);
    if (lead < 0x80) {
        return {lead, 1, true};
    }
    std::size_t length = 0;
    char32_t code = 0;
    if (within(lead, 0xC2, 0xDF)) {
        length = 2;
        code = lead & 0x1FU;
    } else if (within(lead, 0xE0, 0xEF)) {
        length = 3;
        code = lead & 0x0FU;
    } else if (within(lead, 0xF0, 0xF4)) {
        length = 4;
        code = lead & 0x07U;
    }
    if (length == 0 || length > text.size()) {
        return {};
    }
    for (std::size_t i = 1; i < length; ++i) {
        if ((byte(i) & 0xC0U) != 0x80U) {
            return {};
        }
        code = (code << 6U) | (byte(i) & 0x3FU);
    }
    const bool overlong = (length == 3 && code < 0x800) || (length == 4 && code < 0x10000);
    if (overlong || within(code, 0xD800, 0xDFFF) || code > 0x10FFFF) {
        return {};
    }
    return {code, length, true};
}

bool is_control(char32_t code) {
    return code < 0x20 || within(code, 0x7F, 0x9F) || code == 0x061C ||
           within(code, 0x200B, 0x200F) || within(code, 0x2028, 0x202E) ||
           within(code, 0x2066, 0x2069) || code == 0xFEFF;
}

std::string_view markup_entity(char32_t code) {
    switch (code) {
        case U'&':
            return "&amp;";
        case U'<':
            return "&lt;";
        case U'>':
            return "&gt;";
        case U'"':
            return "&quot;";
        case U'\'':
            return "&#39;";
        default:
            return {};
    }
}

std::size_t columns_of(char32_t code) {
    if (within(code, 0x0300, 0x036F) || within(code, 0x1AB0, 0x1AFF) ||
        within(code, 0x20D0, 0x20FF) || within(code, 0xFE00, 0xFE0F)) {
        return 0;
    }
    const bool wide = within(code, 0x1100, 0x115F) || within(code, 0x2E80, 0xA4CF) ||
                      within(code, 0xAC00, 0xD7A3) || within(code, 0xF900, 0xFAFF) ||
                      within(code, 0xFE30, 0xFE6F) || within(code, 0xFF00, 0xFF60) ||
                      within(code, 0xFFE0, 0xFFE6) || within(code, 0x1F300, 0x1FAFF) ||
                      within(code, 0x20000, 0x3FFFD);
    return wide ? 2 : 1;
}

std::string shortened(std::string_view text, std::size_t most) {
    std::size_t taken = 0;
    std::size_t bytes = 0;
    while (bytes < text.size()) {
        if (taken == most) {
            return std::string{text.substr(0, bytes)} + "…";
        }
        bytes += next_character(text.substr(bytes)).bytes;
        ++taken;
    }
    return std::string{text};
}

}  // namespace afterload::runner
