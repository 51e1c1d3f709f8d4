#include "runner/base64.hpp"

#include <openssl/evp.h>

#include <algorithm>
#include <limits>

namespace afterload::runner {
namespace {

// libcrypto counts in int.
constexpr std::size_t most_at_once = std::numeric_limits<int>::max() / 2;

const unsigned char* octets(std::string_view bytes) {
    return reinterpret_cast<const unsigned char*>(bytes.data());
}

}  // namespace

std::string base64(std::string_view bytes) {
    std::string text;
    // A multiple of three: only the last block has padding.
    constexpr std::size_t block = std::size_t{3} << 20U;
    for (std::size_t at = 0; at < bytes.size(); at += block) {
        const std::string_view part = bytes.substr(at, block);
        const std::size_t begin = text.size();
        text.resize(begin + 4 * ((part.size() + 2) / 3) + 1);  // and the zero it writes
        const int length = EVP_EncodeBlock(reinterpret_cast<unsigned char*>(text.data() + begin),
                                           octets(part), static_cast<int>(part.size()));
        text.resize(begin + static_cast<std::size_t>(length));
    }
    return text;
}

std::optional<std::string> from_base64(std::string_view text) {
    if (text.size() % 4 != 0 || text.size() > most_at_once) {
        return std::nullopt;
    }
    std::string bytes(text.size() / 4 * 3, '\0');
    const int length = EVP_DecodeBlock(reinterpret_cast<unsigned char*>(bytes.data()), octets(text),
                                       static_cast<int>(text.size()));
    if (length < 0) {
        return std::nullopt;
    }
    const std::string_view end = text.substr(text.size() - std::min<std::size_t>(text.size(), 2));
    const auto padding = static_cast<std::size_t>(std::count(end.begin(), end.end(), '='));
    bytes.resize(static_cast<std::size_t>(length) - padding);
    // It is lenient with spaces and with padding in the middle; what is kept is not.
    return base64(bytes) == text ? std::optional{bytes} : std::nullopt;
}

}  // namespace afterload::runner
