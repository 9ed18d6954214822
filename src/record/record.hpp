// SPDX-License-Identifier: Apache-2.0
// A record: one fact that a person or an instrument stated, never changed. Each names the record before it of
// the same station by SHA-256, so that a station's records form a chain; the chain's head is signed at each
// commit. Format: docs/formats/job-file.md. Verified by: tests/unit/record/record.cpp,
// tests/store/record/*.cpp.
#pragma once

#include "record/digest.hpp"
#include "record/station_key.hpp"
#include "units/instant.hpp"

#include <cstdint>
#include <string>
#include <string_view>

namespace guidepin::record {

/// How the text of every record begins: it is one canonical JSON object, and "body" comes first in the
/// alphabet.
inline constexpr std::string_view before_body = "{\"body\":";

/// What a caller brings: the store adds station, sequence, versions and hashes.
struct Draft
{
    std::string kind; ///< one of kind_names
    Instant time;     ///< when it was stated (not when a reading was taken: that is the body's)
    std::string operator_name;
    std::string body; ///< canonical JSON, an object (record/canonical_json.hpp)
};

/// A record as a store keeps it; text belongs to the store and lives until the visitor returns.
struct RecordView
{
    std::string_view station;
    std::int64_t sequence = 0; ///< 1, 2, 3 ... in the station's chain
    std::string_view kind;
    Instant time;
    std::string_view operator_name;
    std::string_view program; ///< version of the program that wrote it
    std::string_view facts;   ///< version of the fact tables it knew
    Digest previous;          ///< hash of the record before it of this station; zero for the first
    Digest hash;
    std::string_view body;
};

struct Record
{
    std::string station;
    std::int64_t sequence = 0;
    std::string kind;
    Instant time;
    std::string operator_name, program, facts;
    Digest previous, hash;
    std::string body;

    Record() = default;
    explicit Record(RecordView const& view);
    RecordView view() const;
};

/// Whether a time has an RFC 3339 text: years 1 to 9999, an offset within a day.
bool can_be_recorded(Instant const& time);

/// The whole record as canonical JSON, its own hash left out: what hash_of() hashes.
std::string envelope(RecordView const& record);
Digest hash_of(RecordView const& record);

/// The end of a station's chain as it stood at a commit, signed with the station's key.
struct Head
{
    std::string station;
    std::int64_t sequence = 0;
    Digest hash;
    Signature signature;

    friend bool operator==(Head const&, Head const&) = default;
};

/// The canonical JSON that a head's signature signs.
std::string head_statement(std::string_view station, std::int64_t sequence, Digest const& hash);
Head signed_head(StationKey const& key, std::int64_t sequence, Digest const& hash);

/// Body of the first record of a chain, and the key out of it (Errc::damaged when it is not one, or not this
/// station's).
std::string station_key_body(PublicKey const& key);
Result<PublicKey> key_from_first_record(RecordView const& record);

} // namespace guidepin::record
