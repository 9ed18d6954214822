// SPDX-License-Identifier: Apache-2.0
#include "record/digest.hpp"

#include "record/bytes.hpp"
#include <sodium.h>

namespace guidepin::record {

namespace {

static_assert(sizeof(crypto_hash_sha256_state) <= 128);

int digit_of(char letter)
{
    if (letter >= '0' && letter <= '9') return letter - '0';
    if (letter >= 'a' && letter <= 'f') return letter - 'a' + 10;
    return -1;
}

crypto_hash_sha256_state* as_state(std::array<std::uint8_t, 128>& state)
{
    return reinterpret_cast<crypto_hash_sha256_state*>(state.data());
}

} // namespace

std::string hex_text(std::uint8_t const* bytes, std::size_t size)
{
    static constexpr char digits[] = "0123456789abcdef";
    std::string text(2 * size, '0');
    for (std::size_t i = 0; i < size; ++i) {
        text[2 * i] = digits[bytes[i] >> 4];
        text[2 * i + 1] = digits[bytes[i] & 15];
    }
    return text;
}

bool read_hex(std::string_view text, std::uint8_t* bytes, std::size_t size)
{
    if (text.size() != 2 * size) return false;
    for (std::size_t i = 0; i < size; ++i) {
        int const high = digit_of(text[2 * i]);
        int const low = digit_of(text[2 * i + 1]);
        if (high < 0 || low < 0) return false;
        bytes[i] = static_cast<std::uint8_t>(high * 16 + low);
    }
    return true;
}

std::string Digest::hex() const
{
    return hex_text(bytes.data(), bytes.size());
}

std::optional<Digest> Digest::from_hex(std::string_view text)
{
    Digest digest;
    if (!read_hex(text, digest.bytes.data(), digest.bytes.size())) return std::nullopt;
    return digest;
}

Sha256::Sha256()
    : state_{}
{
    crypto_hash_sha256_init(as_state(state_));
}

Sha256& Sha256::update(std::string_view bytes)
{
    crypto_hash_sha256_update(as_state(state_), as_bytes(bytes), bytes.size());
    return *this;
}

Digest Sha256::finish()
{
    Digest digest;
    crypto_hash_sha256_final(as_state(state_), digest.bytes.data());
    return digest;
}

Digest sha256(std::string_view bytes)
{
    Digest digest;
    crypto_hash_sha256(digest.bytes.data(), as_bytes(bytes), bytes.size());
    return digest;
}

} // namespace guidepin::record
