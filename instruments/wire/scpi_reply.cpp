#include "instruments/wire/scpi_reply.hpp"

#include "instruments/wire/scpi_text.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <cstddef>

namespace afterload::instruments {

namespace {

bool is_one_of(char letter, std::string_view letters) {
    return letters.find(letter) != std::string_view::npos;
}

}  // namespace

std::optional<ScpiNumber> scpi_number(std::string_view text) {
    text = trimmed(text);
    if (text.starts_with('+')) {
        text.remove_prefix(1);
        if (text.starts_with('-')) {
            return std::nullopt;
        }
    }
    // from_chars would also read "inf" and "nan", which no instrument may write.
    const bool plain = !text.empty() && std::all_of(text.begin(), text.end(), [](char letter) {
        return is_one_of(letter, "0123456789.eE+-");
    });
    double value = 0.0;
    const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
    if (!plain || error != std::errc{} || end != text.data() + text.size() ||
        !std::isfinite(value)) {
        return std::nullopt;
    }
    constexpr double nothing = 9.89e37;  // 9.9E37 and 9.91E37, as far as they may be rounded
    if (std::abs(value) >= nothing) {
        return ScpiNumber{};
    }
    return ScpiNumber{value};
}

std::optional<ScpiError> scpi_error(std::string_view text) {
    text = trimmed(text);
    if (text.starts_with('+')) {
        text.remove_prefix(1);
    }
    ScpiError entry;
    const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), entry.code);
    if (error != std::errc{}) {
        return std::nullopt;
    }
    std::string_view rest = trimmed(text.substr(static_cast<std::size_t>(end - text.data())));
    if (rest.empty()) {
        return entry;  // some leave the words out
    }
    if (!rest.starts_with(',')) {
        return std::nullopt;
    }
    rest = trimmed(rest.substr(1));
    if (rest.size() >= 2 && rest.front() == '"' && rest.back() == '"') {
        rest = rest.substr(1, rest.size() - 2);
    } else if (!std::any_of(rest.begin(), rest.end(), [](char c) { return capital(c) >= 'A'; })) {
        return std::nullopt;  // words without quotes pass, but a list of numbers is another answer
    }
    entry.text = std::string{rest};
    return entry;
}

std::optional<ScpiIdentity> scpi_identity(std::string_view text) {
    std::array<std::string, 4> fields;
    text = trimmed(text);
    for (std::size_t i = 0; i < fields.size(); ++i) {
        const bool last = i + 1 == fields.size();
        const auto comma = last ? std::string_view::npos : text.find(',');
        if (!last && comma == std::string_view::npos) {
            return std::nullopt;
        }
        fields[i] = std::string{trimmed(text.substr(0, comma))};
        text.remove_prefix(last ? text.size() : comma + 1);
    }
    if (fields[0].empty() || fields[1].empty()) {
        return std::nullopt;
    }
    return ScpiIdentity{fields[0], fields[1], fields[2], fields[3]};
}

std::string shown(std::string_view text) {
    constexpr std::size_t most = 60;
    std::string out;
    for (const char letter : text.substr(0, most)) {
        const auto code = static_cast<unsigned char>(letter);
        out += code < 0x20 || code > 0x7e ? fmt::format("\\x{:02x}", code) : std::string{letter};
    }
    return text.size() > most ? out + "…" : out;
}

}  // namespace afterload::instruments
