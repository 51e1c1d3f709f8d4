#include "runner/checksum.hpp"

#include <openssl/evp.h>

#include <array>
#include <cerrno>
#include <fstream>
#include <memory>
#include <system_error>

namespace afterload::runner {
namespace {

class Digest {
public:
    Digest() : context_{EVP_MD_CTX_new()} {
        EVP_DigestInit_ex(context_.get(), EVP_sha256(), nullptr);
    }
    void add(std::string_view bytes) {
        EVP_DigestUpdate(context_.get(), bytes.data(), bytes.size());
    }
    [[nodiscard]] std::string hexadecimal() {
        std::array<unsigned char, EVP_MAX_MD_SIZE> digest{};
        unsigned int length = 0;
        EVP_DigestFinal_ex(context_.get(), digest.data(), &length);
        constexpr std::string_view digits = "0123456789abcdef";
        std::string text;
        for (unsigned int i = 0; i < length; ++i) {
            text += digits[digest[i] >> 4U];
            text += digits[digest[i] & 15U];
        }
        return text;
    }

private:
    struct Free {
        void operator()(EVP_MD_CTX* context) const { EVP_MD_CTX_free(context); }
    };
    std::unique_ptr<EVP_MD_CTX, Free> context_;
};

}  // namespace

std::string sha256(std::string_view bytes) {
    Digest digest;
    digest.add(bytes);
    return digest.hexadecimal();
}

tl::expected<std::string, std::string> sha256_of_file(const std::string& path) {
    std::ifstream file{path, std::ios::binary};
    if (!file) {
        return tl::unexpected(path + ": " + std::generic_category().message(errno));
    }
    Digest digest;
    std::array<char, 65536> block{};
    while (file.read(block.data(), block.size()) || file.gcount() > 0) {
        digest.add({block.data(), static_cast<std::size_t>(file.gcount())});
    }
    if (file.bad()) {
        return tl::unexpected(path + ": could not be read to its end");
    }
    return digest.hexadecimal();
}

}  // namespace afterload::runner
