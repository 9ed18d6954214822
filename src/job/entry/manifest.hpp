// SPDX-License-Identifier: Apache-2.0
// What a package says it is: its files with their SHA-256, how it was made, and where the chains of its
// records end; signed with the station's key. Layout: docs/formats/package.md. Verified by:
// tests/unit/job/manifest.cpp (round trip, a changed letter breaks the signature), tests/cli/package.py,
// tests/cli/audit.py (a package with each thing wrong once).
#pragma once

#include "base/result.hpp"
#include "record/store.hpp"
#include "units/instant.hpp"

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace guidepin::job {

inline constexpr char const* manifest_name = "manifest.json";
inline constexpr char const* records_name = "records.jsonl";

struct ManifestFile
{
    std::string name; ///< within the folder, without any slash
    std::int64_t size = 0;
    std::string sha256; ///< 64 hexadecimal digits

    friend bool operator==(ManifestFile const&, ManifestFile const&) = default;
};

struct Manifest
{
    std::string job, title, program, facts, paper;
    Instant made;
    std::vector<std::string> links;  ///< only these have certificates; empty: all scheduled ones
    std::vector<ManifestFile> files; ///< by name
    std::vector<record::Head> ends;  ///< of the chains in the package; without their signatures
};

/// Canonical JSON: what is signed.
Result<std::string> manifest_statement(Manifest const& manifest);

/// Made with the station's key, or nothing of it for a draft.
struct Seal
{
    std::string station;
    record::PublicKey key;
    record::Signature signature;
};

struct SealedManifest
{
    Manifest manifest;
    std::string statement; ///< as it was signed
    std::optional<Seal> seal;

    /// The signature holds with the key beside it, and the station is named after that key.
    bool holds() const;
};

/// The file manifest.json: one line.
std::string manifest_text(std::string_view statement, Seal const* seal);
/// invalid_input with what is wrong: no JSON, a member missing, a file name that leaves the folder.
Result<SealedManifest> read_manifest(std::string_view text);

/// A package was made and given away (record kind handed-over).
struct HandOver
{
    std::string manifest_sha256; ///< of the file manifest.json
    Instant made;                ///< the time printed in it
    std::vector<ManifestFile> files;
    // Of the record, not in the body.
    Instant at;
    std::string person;
    std::string station;
    std::int64_t sequence = 0;
};
Result<std::string> hand_over_body(HandOver const& given);
Result<HandOver> hand_over_of(std::string_view body);

} // namespace guidepin::job
