// SPDX-License-Identifier: Apache-2.0
// Whatever is changed in a stored record behind the program's back is found, and the record is named.
#include "record/check.hpp"

#include "all_records.hpp"
#include "places.hpp"

#include <fstream>

#include <rapidcheck/gtest.h>
#include <sqlite3.h>

namespace guidepin::record::test {
namespace check_test {

/// Plain SQL on the file, as anybody could run it. Constraints of the schema are not in the way.
class Outsider
{
  public:
    explicit Outsider(std::string const& path)
    {
        EXPECT_EQ(sqlite3_open(path.c_str(), &handle_), SQLITE_OK);
        run("pragma ignore_check_constraints = on");
    }
    Outsider(Outsider const&) = delete;
    Outsider& operator=(Outsider const&) = delete;
    ~Outsider() { sqlite3_close(handle_); }

    void run(std::string const& sql)
    {
        char* message = nullptr;
        int const code = sqlite3_exec(handle_, sql.c_str(), nullptr, nullptr, &message);
        EXPECT_EQ(code, SQLITE_OK) << sql << ": " << (message == nullptr ? "" : message);
        sqlite3_free(message);
    }

    std::string bytes_of(std::string const& expression)
    {
        sqlite3_stmt* statement = nullptr;
        EXPECT_EQ(sqlite3_prepare_v2(handle_, ("select " + expression).c_str(), -1, &statement, nullptr),
                  SQLITE_OK);
        std::string bytes;
        if (sqlite3_step(statement) == SQLITE_ROW) {
            auto const* first = static_cast<char const*>(sqlite3_column_blob(statement, 0));
            if (first != nullptr)
                bytes.assign(first, static_cast<std::size_t>(sqlite3_column_bytes(statement, 0)));
        }
        sqlite3_finalize(statement);
        return bytes;
    }

    /// True when the row took it (a unique index may refuse, which is as good as finding it).
    bool set(std::string const& table, std::string const& column, std::int64_t row, std::string const& value)
    {
        return set_with(table, column, row, [&](sqlite3_stmt* statement) {
            bool const blob = column == "previous" || column == "hash" || column == "signature";
            auto const size = static_cast<int>(value.size());
            blob ? sqlite3_bind_blob(statement, 1, value.data(), size, SQLITE_TRANSIENT)
                 : sqlite3_bind_text(statement, 1, value.data(), size, SQLITE_TRANSIENT);
        });
    }
    bool set(std::string const& table, std::string const& column, std::int64_t row, std::int64_t value)
    {
        return set_with(table, column, row,
                        [&](sqlite3_stmt* statement) { sqlite3_bind_int64(statement, 1, value); });
    }

  private:
    template <class Bind>
    bool set_with(std::string const& table, std::string const& column, std::int64_t row, Bind bind)
    {
        sqlite3_stmt* statement = nullptr;
        std::string const sql =
            "update " + table + " set " + column + " = ?1 where sequence = " + std::to_string(row);
        EXPECT_EQ(sqlite3_prepare_v2(handle_, sql.c_str(), -1, &statement, nullptr), SQLITE_OK)
            << sqlite3_errmsg(handle_);
        bind(statement);
        int const code = sqlite3_step(statement);
        sqlite3_finalize(statement);
        return code == SQLITE_DONE && sqlite3_changes(handle_) == 1;
    }

    sqlite3* handle_ = nullptr;
};

constexpr int record_count = 12; // with the station's key

/// A job of three changes, made once and copied for each case.
std::string const& sound_job()
{
    static Folder const folder;
    static std::string const path = [] {
        std::string const made = folder.file("sound.job");
        EXPECT_TRUE(create_sqlite(made, create_options));
        StationKey const key = key_number(1);
        auto const store = opened(made, &key);
        for (int i = 0; i < 3; ++i) EXPECT_TRUE(append(*store, notes(10 * i, i == 0 ? 5 : 3)));
        return made;
    }();
    return path;
}

Result<CheckReport> checked(std::string const& path)
{
    TRY_ASSIGN(auto const store,
               open_sqlite(path, OpenOptions{maker, OpenOptions::Access::read, nullptr, 1000}));
    return check(*store);
}

TEST(Check, SoundJobHolds)
{
    auto const report = checked(sound_job());
    ASSERT_TRUE(report) << report.error().message;
    EXPECT_FALSE(report->first) << report->first->text();
    EXPECT_EQ(report->records, record_count);
    EXPECT_EQ(report->heads, 3);
}

RC_GTEST_PROP(Check, FindsAnyChangedBitInAnyColumn, ())
{
    Folder const folder;
    std::string const path = folder.file("a.job");
    std::filesystem::copy_file(sound_job(), path);
    bool const in_head = *rc::gen::weightedElement<bool>({{9, false}, {2, true}});
    std::string const table = in_head ? "head" : "record";
    std::string const column =
        in_head ? *rc::gen::element<std::string>("station", "sequence", "hash", "signature")
                : *rc::gen::element<std::string>("station", "sequence", "kind", "time_ms", "offset_minutes",
                                                 "operator", "program", "facts", "previous", "hash", "body");
    std::int64_t const row = in_head ? *rc::gen::element<std::int64_t>(6, 9, 12)
                                     : *rc::gen::inRange<std::int64_t>(1, record_count + 1);
    bool taken = false;
    {
        Outsider outsider(path);
        std::string const where = " from " + table + " where sequence = " + std::to_string(row);
        if (column == "sequence" || column == "time_ms" || column == "offset_minutes") {
            std::int64_t const value = std::stoll(outsider.bytes_of(column + where));
            // Offsets have 16 bits that count; a file may hold more, and those must not slip through either.
            std::int64_t const bit = std::int64_t{1} << *rc::gen::inRange(0, 62);
            taken = outsider.set(table, column, row, value ^ bit);
        } else {
            std::string value = outsider.bytes_of(column + where);
            RC_ASSERT(!value.empty());
            auto const at = *rc::gen::inRange<std::size_t>(0, value.size());
            value[at] =
                static_cast<char>(static_cast<unsigned char>(value[at]) ^ (1U << *rc::gen::inRange(0, 8)));
            taken = outsider.set(table, column, row, value);
        }
    }
    RC_PRE(taken);
    RC_TAG(table + "." + column);
    auto const report = checked(path);
    RC_ASSERT(report.has_value());
    RC_ASSERT(report->first.has_value());
    RC_ASSERT(!report->first->reason.empty());
    // The changed record is named, unless its own place in the chain was changed.
    if (!in_head && column != "station" && column != "sequence") RC_ASSERT(report->first->sequence == row);
}

RC_GTEST_PROP(Check, FindsAnyChangedByteOfABodyOnTheDisk, ())
{
    Folder const folder;
    std::string const path = folder.file("a.job");
    std::filesystem::copy_file(sound_job(), path);
    std::string content;
    {
        std::ifstream file(path, std::ios::binary);
        content.assign(std::istreambuf_iterator<char>(file), {});
    }
    std::string const body = note(*rc::gen::element(0, 3, 11, 22)).body;
    auto const at = content.find(body);
    RC_ASSERT(at != std::string::npos);
    auto const changed = at + *rc::gen::inRange<std::size_t>(0, body.size());
    content[changed] =
        static_cast<char>(static_cast<unsigned char>(content[changed]) ^ (1U << *rc::gen::inRange(0, 8)));
    std::ofstream(path, std::ios::binary) << content;
    auto const report = checked(path);
    RC_ASSERT(report.has_value());
    RC_ASSERT(report->first.has_value());
}

struct Tampering
{
    char const* what;
    char const* sql;
    std::int64_t sequence;
    char const* reason;
};

TEST(Check, NamesTheRecordAndTheReason)
{
    Tampering const cases[] = {
        {"a record taken out", "delete from record where sequence = 5", 5, "record 5 is missing"},
        {"the last record taken out", "delete from record where sequence = 12", 12, "signed up to record 12"},
        {"the last signature taken out", "delete from head where sequence = 12", 12, "not signed"},
        {"a body changed", "update record set body = '{\"number\":99}' where sequence = 4", 4,
         "hash does not match"},
        {"the first record changed", "update record set body = '{}' where sequence = 1", 1,
         "hash does not match"},
        {"two records' places changed",
         "update record set sequence = 100 where sequence = 3; update record set sequence = 3 where sequence "
         "= 4; "
         "update record set sequence = 4 where sequence = 100",
         3, "hash does not match"},
    };
    for (Tampering const& one : cases) {
        Folder const folder;
        std::string const path = folder.file("a.job");
        std::filesystem::copy_file(sound_job(), path);
        Outsider(path).run(one.sql);
        auto const report = checked(path);
        ASSERT_TRUE(report) << report.error().message;
        ASSERT_TRUE(report->first) << one.what;
        EXPECT_EQ(report->first->sequence, one.sequence) << one.what;
        EXPECT_EQ(report->first->station, key_number(1).station()) << one.what;
        EXPECT_NE(report->first->reason.find(one.reason), std::string::npos)
            << one.what << ": " << report->first->reason;
    }
}

// A forger without the key can recompute every hash, but not the signature.
TEST(Check, RecomputedHashesDoNotHelp)
{
    Folder const folder;
    std::string const path = folder.file("a.job");
    std::filesystem::copy_file(sound_job(), path);
    std::vector<Record> chain = records(*opened(path, nullptr, OpenOptions::Access::read), {}).value();
    ASSERT_EQ(chain.size(), static_cast<std::size_t>(record_count));
    chain[11].body = R"({"number":0,"text":"all is well"})";
    chain[11].hash = hash_of(chain[11].view());
    {
        Outsider outsider(path);
        auto const hash = std::string(reinterpret_cast<char const*>(chain[11].hash.bytes.data()), 32);
        ASSERT_TRUE(outsider.set("record", "body", 12, chain[11].body));
        ASSERT_TRUE(outsider.set("record", "hash", 12, hash));
        ASSERT_TRUE(outsider.set("head", "hash", 12, hash));
    }
    auto const report = checked(path);
    ASSERT_TRUE(report && report->first);
    EXPECT_EQ(report->first->sequence, 12);
    EXPECT_EQ(report->first->kind, "note");
    EXPECT_NE(report->first->text().find("does not hold with the station's key"), std::string::npos)
        << report->first->text();
}

} // namespace check_test
} // namespace guidepin::record::test
