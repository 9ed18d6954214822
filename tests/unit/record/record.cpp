// SPDX-License-Identifier: Apache-2.0
#include "record/record.hpp"

#include "record/canonical_json.hpp"
#include "record/kind.hpp"

#include <gtest/gtest.h>

namespace guidepin::record {
namespace record_test {

StationKey test_key()
{
    std::array<std::uint8_t, 32> seed{};
    seed[0] = 7;
    return StationKey::from_seed(seed);
}

RecordView a_record(StationKey const& key)
{
    RecordView record;
    record.station = key.station();
    record.sequence = 2;
    record.kind = kind::note;
    record.time = Instant{1772439300500, 60};
    record.operator_name = "R. \"Bob\" \xC3\x96rn";
    record.program = "0.1.0";
    record.facts = "2026-1";
    record.previous = sha256("before");
    record.body = R"({"text":"clean the tail cord"})";
    return record;
}

TEST(Record, EnvelopeIsCanonicalAndHashedWhole)
{
    StationKey const key = test_key();
    RecordView const record = a_record(key);
    std::string const text = envelope(record);
    EXPECT_TRUE(require_canonical(text)) << text;
    EXPECT_EQ(
        text,
        R"({"body":{"text":"clean the tail cord"},"facts":"2026-1","format":1,"kind":"note","operator":"R. \"Bob\" )"
        "\xC3\x96"
        R"(rn","previous":")" +
            record.previous.hex() + R"(","program":"0.1.0","sequence":2,"station":")" + key.station() +
            R"(","time":"2026-03-02T09:15:00.500+01:00"})");
    EXPECT_EQ(hash_of(record), sha256(text));
}

TEST(Record, EveryFieldIsInTheHash)
{
    StationKey const key = test_key();
    RecordView const record = a_record(key);
    Digest const hash = hash_of(record);
    auto const differs = [&](auto change) {
        RecordView other = record;
        change(other);
        return hash_of(other) != hash;
    };
    EXPECT_TRUE(differs([](RecordView& r) { r.station = "000000000000"; }));
    EXPECT_TRUE(differs([](RecordView& r) { r.sequence = 3; }));
    EXPECT_TRUE(differs([](RecordView& r) { r.kind = kind::correction; }));
    EXPECT_TRUE(differs([](RecordView& r) { r.time.ms += 1; }));
    EXPECT_TRUE(differs([](RecordView& r) { r.time.offset_minutes = 61; }));
    EXPECT_TRUE(differs([](RecordView& r) { r.operator_name = "R"; }));
    EXPECT_TRUE(differs([](RecordView& r) { r.operator_name = "\xFF"; })) << "not UTF-8, as after damage";
    EXPECT_TRUE(differs([](RecordView& r) { r.program = "0.1.1"; }));
    EXPECT_TRUE(differs([](RecordView& r) { r.facts = ""; }));
    EXPECT_TRUE(differs([](RecordView& r) { r.previous = Digest{}; }));
    EXPECT_TRUE(differs([](RecordView& r) { r.body = "{}"; }));
}

TEST(Record, HeadStatementIsCanonical)
{
    StationKey const key = test_key();
    Head const head = signed_head(key, 12, sha256("x"));
    std::string const statement = head_statement(head.station, head.sequence, head.hash);
    EXPECT_TRUE(require_canonical(statement)) << statement;
    EXPECT_TRUE(signature_holds(key.public_key(), statement, head.signature));
}

TEST(Record, StationKeyRecordGivesTheKeyOfItsStationOnly)
{
    StationKey const key = test_key();
    std::string const body = station_key_body(key.public_key());
    EXPECT_TRUE(require_canonical(body));
    RecordView first;
    first.station = key.station();
    first.sequence = 1;
    first.kind = kind::station_key;
    first.body = body;
    auto const found = key_from_first_record(first);
    ASSERT_TRUE(found) << found.error().message;
    EXPECT_EQ(*found, key.public_key());
    first.station = "000000000000";
    EXPECT_FALSE(key_from_first_record(first));
    first.station = key.station();
    first.kind = kind::note;
    EXPECT_FALSE(key_from_first_record(first));
}

TEST(Record, KindsAreKnownByNameInAlphabeticalOrder)
{
    EXPECT_EQ(std::adjacent_find(kind_names.begin(), kind_names.end(), std::greater_equal<>{}),
              kind_names.end());
    for (std::string_view const name : kind_names) EXPECT_TRUE(is_known_kind(name)) << name;
    for (std::string_view const name : {"nothing", "", "Note", "notes"})
        EXPECT_FALSE(is_known_kind(name)) << name;
}

} // namespace record_test
} // namespace guidepin::record
