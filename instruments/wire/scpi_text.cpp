#include "instruments/wire/scpi_text.hpp"

#include <algorithm>

namespace afterload::instruments {

std::string_view trimmed(std::string_view text) {
    constexpr std::string_view blanks = " \t\r\n";
    const auto first = text.find_first_not_of(blanks);
    return first == std::string_view::npos
               ? std::string_view{}
               : text.substr(first, text.find_last_not_of(blanks) - first + 1);
}

char capital(char letter) {
    return letter >= 'a' && letter <= 'z' ? static_cast<char>(letter - 'a' + 'A') : letter;
}

std::string in_capitals(std::string_view text) {
    std::string out{text};
    std::transform(out.begin(), out.end(), out.begin(), capital);
    return out;
}

}  // namespace afterload::instruments
