// SPDX-License-Identifier: Apache-2.0
// The signed manifest of a package. Oracles: round trip; Ed25519 of the record room, which is held against
// RFC 8032; any changed byte is found.
#include "job/entry/manifest.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace guidepin::job {
namespace manifest_test {

using ::testing::HasSubstr;

record::StationKey key()
{
    return record::StationKey::from_seed({1, 2, 3});
}

Manifest sample()
{
    Manifest manifest;
    manifest.job = "job-1";
    manifest.title = "Hall \"2\"";
    manifest.program = "0.1.0";
    manifest.facts = "0123456789abcdef";
    manifest.paper = "a4";
    manifest.made = *parse_instant("2026-03-05T09:00:00+01:00");
    manifest.links = {"N-01", "N-02"};
    manifest.files = {{"job.xlsx", 12, std::string(64, 'a')}, {"summary.pdf", 13, std::string(64, 'b')}};
    record::Head end;
    end.station = "1f3a00000000";
    end.sequence = 9;
    end.hash = record::sha256("x");
    manifest.ends = {end};
    return manifest;
}

std::string sealed_text(Manifest const& manifest)
{
    auto const statement = manifest_statement(manifest).value();
    auto const station = key();
    Seal const seal{station.station(), station.public_key(), station.sign(statement)};
    return manifest_text(statement, &seal);
}

TEST(Manifest, ReadsBackAndHolds)
{
    auto const back = read_manifest(sealed_text(sample()));
    ASSERT_TRUE(back) << back.error().message;
    EXPECT_TRUE(back->holds());
    Manifest const& manifest = back->manifest;
    EXPECT_EQ(manifest.job, "job-1");
    EXPECT_EQ(manifest.title, "Hall \"2\"");
    EXPECT_EQ(manifest.made, sample().made);
    EXPECT_EQ(manifest.made.offset_minutes, 60);
    EXPECT_EQ(manifest.links, sample().links);
    EXPECT_EQ(manifest.files, sample().files);
    ASSERT_EQ(manifest.ends.size(), 1u);
    EXPECT_EQ(manifest.ends[0].sequence, 9);
    EXPECT_EQ(manifest.ends[0].hash, record::sha256("x"));
}

TEST(Manifest, NoChangedByteHolds)
{
    std::string const text = sealed_text(sample());
    int read = 0;
    for (std::size_t at = 0; at + 1 < text.size(); ++at) {
        std::string changed = text;
        changed[at] = changed[at] == '1' ? '2' : '1';
        auto const back = read_manifest(changed);
        if (!back) continue;
        ++read;
        EXPECT_FALSE(back->holds()) << at << ": " << changed;
    }
    EXPECT_GT(read, 200);
}

TEST(Manifest, ADraftIsNotSigned)
{
    auto const back = read_manifest(manifest_text(manifest_statement(sample()).value(), nullptr));
    ASSERT_TRUE(back);
    EXPECT_FALSE(back->seal.has_value());
    EXPECT_FALSE(back->holds());
}

TEST(Manifest, AKeyOfAnotherStationDoesNotHold)
{
    auto const statement = manifest_statement(sample()).value();
    auto const station = key();
    Seal const seal{"000000000000", station.public_key(), station.sign(statement)};
    auto const back = read_manifest(manifest_text(statement, &seal));
    ASSERT_TRUE(back);
    EXPECT_FALSE(back->holds());
}

TEST(Manifest, NamesThatLeaveTheFolderAreRefused)
{
    for (char const* name : {"../summary.pdf", "/etc/passwd", ".hidden", "a/b"}) {
        Manifest manifest = sample();
        manifest.files[0].name = name;
        auto const back = read_manifest(manifest_text(manifest_statement(manifest).value(), nullptr));
        ASSERT_FALSE(back) << name;
        EXPECT_THAT(back.error().message, HasSubstr(name));
    }
}

TEST(Manifest, HandingOverComesBack)
{
    HandOver given;
    given.manifest_sha256 = std::string(64, 'c');
    given.made = sample().made;
    given.files = sample().files;
    auto const back = hand_over_of(hand_over_body(given).value());
    ASSERT_TRUE(back) << back.error().message;
    EXPECT_EQ(back->manifest_sha256, given.manifest_sha256);
    EXPECT_EQ(back->made, given.made);
    EXPECT_EQ(back->files, given.files);
}

} // namespace manifest_test
} // namespace guidepin::job
