// SPDX-License-Identifier: Apache-2.0
// SHA-256 (FIPS 180-4), by which records are chained and source files are known.
// Verified by: tests/oracle/record/digest.cpp (FIPS 180-4 examples).
#pragma once

#include <array>
#include <compare>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

namespace guidepin::record {

struct Digest
{
    std::array<std::uint8_t, 32> bytes{};

    std::string hex() const; ///< 64 lower-case digits
    static std::optional<Digest> from_hex(std::string_view text);
    bool is_zero() const { return *this == Digest{}; }

    friend bool operator==(Digest const&, Digest const&) = default;
    friend auto operator<=>(Digest const&, Digest const&) = default;
};

/// Fed in pieces, so that a large body is never copied to be hashed.
class Sha256
{
  public:
    Sha256();
    Sha256& update(std::string_view bytes);
    Digest finish(); ///< once

  private:
    alignas(16) std::array<std::uint8_t, 128> state_;
};

Digest sha256(std::string_view bytes);

std::string hex_text(std::uint8_t const* bytes, std::size_t size);
bool read_hex(std::string_view text, std::uint8_t* bytes, std::size_t size); ///< lower case, exact length

} // namespace guidepin::record
