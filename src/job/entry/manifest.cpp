// SPDX-License-Identifier: Apache-2.0
#include "job/entry/manifest.hpp"

#include "record/canonical_json.hpp"

#include <fmt/format.h>

namespace guidepin::job {

namespace {

constexpr std::string_view purpose = "guidepin package manifest";

void write_files(record::JsonWriter& json, std::vector<ManifestFile> const& files)
{
    json.key("files").begin_array();
    for (ManifestFile const& file : files) {
        json.begin_object().key("name").string(file.name).key("sha256").string(file.sha256);
        json.key("size").integer(file.size).end_object();
    }
    json.end_array();
}

Result<std::vector<ManifestFile>> files_of(record::JsonValue const& json)
{
    record::JsonValue const* const list = json.find("files");
    if (!list || !list->array()) return Error{Errc::invalid_input, "it lists no files"};
    std::vector<ManifestFile> files;
    for (record::JsonValue const& entry : *list->array()) {
        ManifestFile file;
        TRY_ASSIGN(file.name, entry.text_of("name"));
        TRY_ASSIGN(file.sha256, entry.text_of("sha256"));
        TRY_ASSIGN(file.size, entry.integer_of("size"));
        if (file.name.empty() || file.name.find('/') != std::string::npos || file.name.front() == '.')
            return Error{Errc::invalid_input,
                         fmt::format("\"{}\" is no name of a file in the package", file.name)};
        files.push_back(std::move(file));
    }
    return files;
}

Result<Instant> moment_of(record::JsonValue const& json, std::string_view key)
{
    TRY_ASSIGN(std::string const text, json.text_of(key));
    auto const moment = parse_instant(text);
    if (!moment) return Error{Errc::invalid_input, fmt::format("{} is \"{}\", which is no time", key, text)};
    return *moment;
}

} // namespace

Result<std::string> manifest_statement(Manifest const& manifest)
{
    record::JsonWriter json;
    json.begin_object().key("ends").begin_array();
    for (record::Head const& end : manifest.ends) {
        json.begin_object().key("hash").string(end.hash.hex()).key("sequence").integer(end.sequence);
        json.key("station").string(end.station).end_object();
    }
    json.end_array().key("facts").string(manifest.facts);
    write_files(json, manifest.files);
    json.key("format").integer(1).key("job").string(manifest.job).key("links").begin_array();
    for (std::string const& link : manifest.links) json.string(link);
    json.end_array().key("made").string(instant_text(manifest.made));
    json.key("paper").string(manifest.paper).key("program").string(manifest.program);
    json.key("purpose").string(purpose).key("title").string(manifest.title).end_object();
    return json.finish();
}

bool SealedManifest::holds() const
{
    return seal && record::station_of(seal->key) == seal->station &&
           record::signature_holds(seal->key, statement, seal->signature);
}

std::string manifest_text(std::string_view statement, Seal const* seal)
{
    std::string text = "{\"manifest\":";
    text += statement;
    if (seal) {
        text += fmt::format(R"(,"public_key":"{}","signature":"{}","station":"{}")", seal->key.hex(),
                            seal->signature.hex(), seal->station);
    }
    text += "}\n";
    return text;
}

Result<SealedManifest> read_manifest(std::string_view text)
{
    TRY_ASSIGN(auto const whole, record::parse_json(text));
    record::JsonValue const* const json = whole.find("manifest");
    if (!json || !json->object()) return Error{Errc::invalid_input, "it has no member \"manifest\""};
    if (json->text_or("purpose") != purpose)
        return Error{Errc::invalid_input, "it is no manifest of a package"};
    if (json->integer_or("format", 0) != 1)
        return Error{Errc::newer_version,
                     fmt::format("its format is {}; this program reads 1. Use a later program.",
                                 json->integer_or("format", 0))};
    SealedManifest sealed;
    TRY_ASSIGN(sealed.statement, record::canonical_json(*json));
    Manifest& manifest = sealed.manifest;
    TRY_ASSIGN(manifest.job, json->text_of("job"));
    TRY_ASSIGN(manifest.program, json->text_of("program"));
    TRY_ASSIGN(manifest.facts, json->text_of("facts"));
    manifest.title = json->text_or("title");
    manifest.paper = json->text_or("paper");
    TRY_ASSIGN(manifest.made, moment_of(*json, "made"));
    TRY_ASSIGN(manifest.files, files_of(*json));
    if (record::JsonValue const* const links = json->find("links"); links && links->array()) {
        for (record::JsonValue const& link : *links->array())
            if (link.string()) manifest.links.push_back(*link.string());
    }
    if (record::JsonValue const* const ends = json->find("ends"); ends && ends->array()) {
        for (record::JsonValue const& entry : *ends->array()) {
            record::Head end;
            TRY_ASSIGN(end.station, entry.text_of("station"));
            TRY_ASSIGN(end.sequence, entry.integer_of("sequence"));
            TRY_ASSIGN(std::string const hash, entry.text_of("hash"));
            auto const digest = record::Digest::from_hex(hash);
            if (!digest) return Error{Errc::invalid_input, fmt::format("\"{}\" is no SHA-256", hash)};
            end.hash = *digest;
            manifest.ends.push_back(std::move(end));
        }
    }
    if (!whole.find("signature")) return sealed;
    Seal seal;
    TRY_ASSIGN(seal.station, whole.text_of("station"));
    TRY_ASSIGN(std::string const key, whole.text_of("public_key"));
    TRY_ASSIGN(seal.key, record::PublicKey::from_hex(key));
    TRY_ASSIGN(std::string const signature, whole.text_of("signature"));
    if (!record::read_hex(signature, seal.signature.bytes.data(), seal.signature.bytes.size()))
        return Error{Errc::invalid_input, "its signature is no 128 hexadecimal digits"};
    sealed.seal = std::move(seal);
    return sealed;
}

Result<std::string> hand_over_body(HandOver const& given)
{
    record::JsonWriter json;
    json.begin_object();
    write_files(json, given.files);
    json.key("made")
        .string(instant_text(given.made))
        .key("manifest")
        .string(given.manifest_sha256)
        .end_object();
    return json.finish();
}

Result<HandOver> hand_over_of(std::string_view body)
{
    TRY_ASSIGN(auto const json, record::parse_json(body));
    HandOver given;
    TRY_ASSIGN(given.manifest_sha256, json.text_of("manifest"));
    TRY_ASSIGN(given.made, moment_of(json, "made"));
    TRY_ASSIGN(given.files, files_of(json));
    return given;
}

} // namespace guidepin::job
