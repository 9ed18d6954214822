// SPDX-License-Identifier: Apache-2.0
// Bytes of the page that holds the schema, flipped one at a time: what comes of it is an answer or an error
// about the file, never "a bug of ours". Symptom: one flipped byte renamed a column, and every command ended
// with "no such column: program" and the request to report a bug. Oracle: the file as it was, and what was
// done to it.
#include "record/check.hpp"
#include "record/derived.hpp"

#include "places.hpp"

#include <fstream>
#include <iostream>
#include <random>

namespace guidepin::record::test {
namespace schema_damage_test {

std::string content_of(std::string const& path)
{
    std::ifstream file(path, std::ios::binary);
    return {std::istreambuf_iterator<char>(file), {}};
}

void expect_an_error_about_the_file(Error const& error, std::size_t offset, int bits)
{
    // The first 100 bytes say whose file it is, of which version, and how it may be opened.
    bool const of_header =
        offset < 100 && (error.code == Errc::newer_version || error.code == Errc::environment);
    EXPECT_TRUE(error.code == Errc::damaged || error.code == Errc::invalid_input || of_header)
        << "byte " << offset << " flipped by " << bits << ": " << name_of(error.code) << ": "
        << error.message;
}

/// Everything that a command would ask of the store; the first error, if any.
Outcome used(std::string const& path, OpenOptions::Access access, StationKey const& key)
{
    TRY_ASSIGN(auto const store, open_sqlite(path, OpenOptions{maker, access, &key, 200}));
    TRY_ASSIGN(auto const report, check(*store));
    (void)report; // a record that does not hold is an answer
    TRY(store->visit({}, [](RecordView const&) -> Outcome { return {}; }));
    TRY_ASSIGN(auto const tables, store->derived_tables());
    (void)tables;
    TRY_ASSIGN(auto const basis, store->derived_basis());
    (void)basis;
    TRY_ASSIGN(auto const digest, store->derived_digest());
    (void)digest;
    if (access == OpenOptions::Access::write) {
        TRY(append(*store, notes(9, 1)));
    }
    return {};
}

TEST(SchemaDamage, IsNeverTakenForABugOfOurs)
{
    Folder const folder;
    StationKey const key = key_number(1);
    std::string const sound = folder.file("sound.job");
    ASSERT_TRUE(create_sqlite(sound, create_options));
    ASSERT_TRUE(append(*opened(sound, &key), notes(1, 3)));
    std::string const bytes = content_of(sound);
    ASSERT_NE(bytes.substr(0, 16384).find("CREATE TABLE record"), std::string::npos)
        << "the schema is not on the first page: this test would flip other bytes";
    auto const seed = std::random_device{}();
    std::cout << "seed " << seed << "\n";
    std::mt19937 dice(seed);
    int errors = 0;
    for (int i = 0; i < 400; ++i) {
        std::size_t const offset = dice() % 16384;
        int const bits = 1 + static_cast<int>(dice() % 255);
        std::string flipped = bytes;
        flipped[offset] = static_cast<char>(flipped[offset] ^ bits);
        for (auto const access : {OpenOptions::Access::read, OpenOptions::Access::write}) {
            std::string const path = folder.file("flipped.job");
            for (char const* ending : {"", "-wal", "-shm", "-holder"}) std::filesystem::remove(path + ending);
            std::ofstream(path, std::ios::binary) << flipped;
            auto const outcome = used(path, access, key);
            if (outcome) continue;
            ++errors;
            expect_an_error_about_the_file(outcome.error(), offset, bits);
        }
    }
    EXPECT_GT(errors, 100) << "hardly any flip was seen: this test showed nothing";
}

TEST(SchemaDamage, ARenamedColumnIsNamedByItsTable)
{
    Folder const folder;
    StationKey const key = key_number(1);
    std::string const path = folder.file("a.job");
    ASSERT_TRUE(create_sqlite(path, create_options));
    ASSERT_TRUE(append(*opened(path, &key), notes(1, 3)));
    std::string bytes = content_of(path);
    auto const column = bytes.find("program        text");
    ASSERT_NE(column, std::string::npos);
    bytes[column] = 'q';
    std::ofstream(path, std::ios::binary) << bytes;
    auto const outcome = used(path, OpenOptions::Access::read, key);
    ASSERT_FALSE(outcome);
    EXPECT_EQ(outcome.error().code, Errc::damaged);
    EXPECT_NE(outcome.error().message.find("\"record\" is not as this program makes it"), std::string::npos)
        << outcome.error().message;
}

} // namespace schema_damage_test
} // namespace guidepin::record::test
