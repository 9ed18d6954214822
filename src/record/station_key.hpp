// SPDX-License-Identifier: Apache-2.0
// A station is a machine that adds to jobs. It is known by its Ed25519 key (RFC 8032): the secret half stays
// in a file of its own outside every job, the public half is the first record of the station's chain.
// Verified by: tests/oracle/record/station_key.cpp (RFC 8032 section 7.1), tests/store/record/key_file.cpp.
#pragma once

#include "base/result.hpp"

#include <array>
#include <cstdint>
#include <string>
#include <string_view>

namespace guidepin::record {

struct PublicKey
{
    std::array<std::uint8_t, 32> bytes{};
    std::string hex() const;
    static Result<PublicKey> from_hex(std::string_view text);
    friend bool operator==(PublicKey const&, PublicKey const&) = default;
};

struct Signature
{
    std::array<std::uint8_t, 64> bytes{};
    std::string hex() const;
    friend bool operator==(Signature const&, Signature const&) = default;
};

bool signature_holds(PublicKey const& key, std::string_view message, Signature const& signature);

/// The station's name: the first 12 hex digits of the SHA-256 of its public key. So nobody can add to a
/// station's chain without its key, two machines never share a name, and a machine with a new key is a new
/// station.
std::string station_of(PublicKey const& key);

/// Move-only; the secret is wiped when it goes.
class StationKey
{
  public:
    static StationKey generate();
    static StationKey from_seed(std::array<std::uint8_t, 32> const& seed);

    /// Reads the key file, or makes the key, its folder (0700) and the file (0600) when there is none.
    /// Errors: environment (cannot be read or written), refused (others may read it; the message says how to
    /// mend that), invalid_input (not a key file).
    static Result<StationKey> read_or_make(std::string const& path);

    StationKey(StationKey&& other) noexcept;
    StationKey& operator=(StationKey&& other) noexcept;
    StationKey(StationKey const&) = delete;
    StationKey& operator=(StationKey const&) = delete;
    ~StationKey();

    PublicKey const& public_key() const { return public_key_; }
    std::string const& station() const { return station_; }
    Signature sign(std::string_view message) const;

  private:
    StationKey() = default;
    std::array<std::uint8_t, 32> seed_{};
    std::array<std::uint8_t, 64> secret_{};
    PublicKey public_key_;
    std::string station_;
};

} // namespace guidepin::record
