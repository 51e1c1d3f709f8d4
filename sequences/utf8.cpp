#include "sequences/utf8.hpp"

#include <algorithm>

namespace afterload::sequences {

DecodedCharacter decode_utf8(std::string_view text) {
    const auto byte = [text](std::size_t i) {
        return static_cast<char32_t>(static_cast<unsigned char>(text[i]));
    };
    const DecodedCharacter invalid{byte(0), 1, false};
    const char32_t lead = byte(0);
    if (lead < 0x80U) {
        return {lead, 1, true};
    }
    std::size_t length = 0;
    char32_t code = 0;
    char32_t least = 0;
    if (lead >= 0xc2U && lead < 0xe0U) {
        length = 2;
        code = lead & 0x1fU;
        least = 0x80U;
    } else if (lead >= 0xe0U && lead < 0xf0U) {
        length = 3;
        code = lead & 0x0fU;
        least = 0x800U;
    } else if (lead >= 0xf0U && lead < 0xf5U) {
        length = 4;
        code = lead & 0x07U;
        least = 0x10000U;
    } else {
        return invalid;
    }
    if (text.size() < length) {
        return invalid;
    }
    for (std::size_t i = 1; i < length; ++i) {
        if ((byte(i) & 0xc0U) != 0x80U) {
            return invalid;
        }
        code = (code << 6U) | (byte(i) & 0x3fU);
    }
    const bool surrogate = code >= 0xd800U && code < 0xe000U;
    if (code < least || surrogate || code > 0x10ffffU) {
        return invalid;
    }
    return {code, length, true};
}

int characters(std::string_view text) {
    int count = 0;
    while (!text.empty()) {
        text.remove_prefix(std::min(decode_utf8(text).bytes, text.size()));
        ++count;
    }
    return count;
}

}  // namespace afterload::sequences
