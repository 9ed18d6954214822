// SPDX-License-Identifier: Apache-2.0
// The copy of the records that goes into a package: it reads back to the same records, names what was changed
// in it, and ends before what was added by handing over. Oracles: the store it came from; SHA-256 of the
// lines.
#include "record/copy.hpp"
#include "record/check.hpp"

#include "all_records.hpp"
#include "places.hpp"

#include <sstream>

#include <gmock/gmock.h>

namespace guidepin::record::test {
namespace copy_test {

using ::testing::HasSubstr;

constexpr std::string_view last_kinds[] = {kind::handed_over};

struct Sample
{
    StationKey first = key_number(1), second = key_number(2);
    std::unique_ptr<Store> store;

    explicit Sample(Folder const& folder)
    {
        std::string const path = folder.file("job");
        EXPECT_TRUE(create_sqlite(path, create_options));
        for (auto const* key : {&first, &second}) {
            auto const writing = opened(path, key);
            EXPECT_TRUE(append(*writing, notes(1, 3)));
            EXPECT_TRUE(append(*writing, notes(10, 2)));
        }
        store = opened(path, &first);
    }
};

std::string copy_of(Store const& store, std::vector<Head> const& ends)
{
    std::string text;
    auto const written = write_copy(store, ends, [&](std::string_view bytes) {
        text += bytes;
        return true;
    });
    EXPECT_TRUE(written);
    return text;
}

std::string copy_of(Store const& store)
{
    auto const ends = heads_without_last(store, last_kinds);
    EXPECT_TRUE(ends);
    return copy_of(store, *ends);
}

TEST(RecordCopy, ReadsBackToTheSameRecordsAndHeads)
{
    Folder const folder;
    Sample const sample(folder);
    auto const copy = read_copy(copy_of(*sample.store), "records.jsonl");
    ASSERT_TRUE(copy) << copy.error().message;
    auto const before = records(*sample.store, {}).value();
    auto const after = records(**copy, {}).value();
    ASSERT_EQ(before.size(), 12u);
    ASSERT_EQ(after.size(), before.size());
    for (std::size_t i = 0; i < before.size(); ++i) {
        EXPECT_EQ(envelope(before[i].view()), envelope(after[i].view()));
        EXPECT_EQ(before[i].hash, after[i].hash);
    }
    EXPECT_EQ(sample.store->heads().value(), (*copy)->heads().value());
    EXPECT_EQ((*copy)->property("job-id").value(), "job-1");
    auto const report = check(**copy);
    ASSERT_TRUE(report);
    EXPECT_FALSE(report->first) << report->first->text();
    EXPECT_FALSE(append(**copy, notes(1, 1)));
}

TEST(RecordCopy, TheHashOfALineIsTheRecordsHash)
{
    Folder const folder;
    Sample const sample(folder);
    std::istringstream lines(copy_of(*sample.store));
    std::string line;
    ASSERT_TRUE(std::getline(lines, line));
    RecordQuery chain;
    chain.order = RecordQuery::Order::chain;
    auto const all = records(*sample.store, chain).value();
    for (Record const& record : all) {
        ASSERT_TRUE(std::getline(lines, line));
        EXPECT_EQ(sha256(line).hex(), record.hash.hex());
    }
}

TEST(RecordCopy, HandingOverDoesNotChangeIt)
{
    Folder const folder;
    Sample const sample(folder);
    std::string const before = copy_of(*sample.store);
    ASSERT_TRUE(append(*sample.store, std::vector{draft(kind::handed_over, 1'773'000'000'000, "{}")}));
    EXPECT_EQ(copy_of(*sample.store), before);
    // A third station that only handed over is not in it either.
    auto const third = key_number(3);
    auto const other = opened(folder.file("job"), &third);
    ASSERT_TRUE(append(*other, std::vector{draft(kind::handed_over, 1'773'000'001'000, "{}")}));
    EXPECT_EQ(copy_of(*other), before);
    // What came after a handing over brings the record of it along: the chain has no gaps.
    ASSERT_TRUE(append(*sample.store, notes(20, 1)));
    auto const later = read_copy(copy_of(*sample.store), "records.jsonl");
    ASSERT_TRUE(later);
    EXPECT_EQ((*later)->count(kind::handed_over).value(), 1);
    EXPECT_FALSE(check(**later)->first);
}

TEST(RecordCopy, EveryChangedByteIsFound)
{
    Folder const folder;
    Sample const sample(folder);
    std::string const text = copy_of(*sample.store);
    std::size_t const head = text.find('\n');
    int read = 0, refused = 0;
    for (std::size_t at = head + 1; at < text.size(); at += 7) {
        std::string changed = text;
        changed[at] = changed[at] == 'a' ? 'b' : changed[at] == '1' ? '2' : changed[at] == '\n' ? ' ' : 'a';
        if (changed == text) continue;
        auto const copy = read_copy(changed, "records.jsonl");
        if (!copy) {
            ++refused;
            EXPECT_THAT(copy.error().message, HasSubstr("records.jsonl: "));
            continue;
        }
        ++read;
        auto const report = check(**copy);
        ASSERT_TRUE(report);
        EXPECT_TRUE(report->first) << "byte " << at << ": " << changed.substr(at > 40 ? at - 40 : 0, 80);
    }
    EXPECT_GT(read, 100);
    EXPECT_GT(refused, 20);
}

TEST(RecordCopy, NamesTheRecordThatWasChanged)
{
    Folder const folder;
    Sample const sample(folder);
    std::string text = copy_of(*sample.store);
    auto const at = text.find("\"number\":2,");
    ASSERT_NE(at, std::string::npos);
    text.replace(at, 11, "\"number\":7,");
    auto const copy = read_copy(text, "records.jsonl");
    ASSERT_TRUE(copy);
    auto const report = check(**copy);
    ASSERT_TRUE(report && report->first);
    EXPECT_EQ(report->first->sequence, 3);
    EXPECT_EQ(report->first->kind, "note");
}

TEST(RecordCopy, WhatIsNoCopyIsRefusedByLine)
{
    for (char const* text :
         {"", "{}\n", "hello\n", "{\"format\":1,\"job\":\"j\",\"purpose\":\"guidepin records\"}"}) {
        auto const copy = read_copy(text, "records.jsonl");
        ASSERT_FALSE(copy) << text;
        EXPECT_THAT(copy.error().message, HasSubstr("records.jsonl: line 1: "));
    }
    auto const later =
        read_copy("{\"format\":2,\"job\":\"j\",\"purpose\":\"guidepin records\"}\n", "records.jsonl");
    ASSERT_FALSE(later);
    EXPECT_EQ(later.error().code, Errc::newer_version);
}

} // namespace copy_test
} // namespace guidepin::record::test
