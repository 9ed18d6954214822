// SPDX-License-Identifier: Apache-2.0
// Released schema scripts never change: files made by them are out there. When this test fails, undo the
// change and write a new script with the next number. To add one: src/record/schema/NNNN_name.sql, a row here
// with its SHA-256 (sha256sum FILE), newest_schema in src/record/sqlite/sqlite_store.hpp, schema_needs in
// src/record/sqlite/open.cpp. derived.sql may change at any time: its tables are made again.
#include "places.hpp"

#include <fstream>
#include <map>

namespace guidepin::record::test {
namespace schema_test {

std::map<std::string, std::string> const released{
    {"0001_job.sql", "e4a277a86d356786b0721a41eff12e9748528f933559ca30d5fd1a1c6ac6f6c1"},
};

TEST(Schema, ReleasedScriptsNeverChange)
{
    std::map<std::string, std::string> found;
    for (auto const& entry : std::filesystem::directory_iterator(GUIDEPIN_SOURCE_DIR "/src/record/schema")) {
        std::string const name = entry.path().filename().string();
        if (name == "derived.sql") continue;
        std::ifstream file(entry.path(), std::ios::binary);
        found[name] = sha256(std::string(std::istreambuf_iterator<char>(file), {})).hex();
    }
    EXPECT_EQ(found, released);
}

} // namespace schema_test
} // namespace guidepin::record::test
