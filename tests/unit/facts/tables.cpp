// SPDX-License-Identifier: Apache-2.0
// Oracle: the data files themselves, scanned line by line without the loader; the contract in
// facts/tables.hpp.
#include "facts/tables.hpp"

#include <fmt/format.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <set>
#include <sstream>

namespace guidepin::facts {
namespace tables_test {

using ::testing::HasSubstr;

std::vector<NamedText> const& data_files()
{
    static std::vector<NamedText> const files = [] {
        std::vector<NamedText> found;
        for (auto const& entry :
             std::filesystem::directory_iterator{std::string{GUIDEPIN_SOURCE_DIR} + "/data"}) {
            if (entry.path().extension() != ".toml") continue;
            std::ifstream file{entry.path()};
            std::ostringstream text;
            text << file.rdbuf();
            found.push_back(NamedText{entry.path().filename().string(), text.str()});
        }
        std::sort(found.begin(), found.end(), [](auto const& a, auto const& b) { return a.name < b.name; });
        return found;
    }();
    return files;
}

std::vector<std::string> lines_of(std::string const& text)
{
    std::vector<std::string> lines;
    std::istringstream in{text};
    for (std::string line; std::getline(in, line);) lines.push_back(line);
    return lines;
}

bool holds(std::string const& text, char const* part)
{
    return text.find(part) != std::string::npos;
}

TEST(DataFiles, EveryRowHasSourceAndBasis)
{
    ASSERT_GE(data_files().size(), 12u);
    int rows = 0;
    for (auto const& file : data_files()) {
        int number = 0;
        int block_line = 0;
        std::string block;
        auto const close_block = [&] {
            bool const holds_value = holds(block, "\nvalue = ") || holds(block, "\ntext = ");
            if (holds_value) {
                ++rows;
                EXPECT_TRUE(holds(block, "\nsource = ")) << file.name << ":" << block_line << ": no source";
                EXPECT_TRUE(holds(block, "\nbasis = ")) << file.name << ":" << block_line << ": no basis";
            }
        };
        for (auto const& line : lines_of(file.text)) {
            ++number;
            if (line.starts_with("[")) {
                close_block();
                block.clear();
                block_line = number;
            }
            if (holds(line, "{ value = ") || holds(line, "{ text = ")) {
                ++rows;
                EXPECT_TRUE(holds(line, "source = ")) << file.name << ":" << number << ": no source";
                EXPECT_TRUE(holds(line, "basis = ")) << file.name << ":" << number << ": no basis";
            }
            block += "\n" + line;
        }
        close_block();
    }
    EXPECT_GT(rows, 500); // the scan saw the tables
    // Nothing is lost on the way: every row is a fact, and each application adds one fact about its identity.
    EXPECT_EQ(built_in_tables().facts.size(),
              static_cast<std::size_t>(rows) + built_in_tables().applications.size());
}

TEST(DataFiles, EveryFactSaysWhatItIsAndWhereItComesFrom)
{
    std::set<std::string> ids;
    for (auto const& fact : built_in_tables().facts) {
        EXPECT_TRUE(ids.insert(fact.id).second) << fact.id;
        EXPECT_FALSE(fact.quantity.empty()) << fact.id;
        EXPECT_FALSE(fact.unit.empty() && fact.text.empty()) << fact.id;
        EXPECT_FALSE(fact.source.document.empty()) << fact.id;
        EXPECT_EQ(fact.source.edition.empty(), fact.source.document == "common practice") << fact.id;
        // A trade habit can be no more than common practice or memory.
        if (fact.source.document == "common practice") {
            EXPECT_TRUE(fact.basis == Basis::common_practice || fact.basis == Basis::memory ||
                        fact.basis == Basis::derived)
                << fact.id;
        }
    }
}

TEST(DataFiles, TheProgramHoldsAllOfThem)
{
    auto const from_folder = load_tables(data_files());
    ASSERT_TRUE(from_folder) << from_folder.error().message;
    std::set<std::string> folder;
    std::set<std::string> program;
    for (auto const& fact : from_folder->facts) folder.insert(fact.id);
    for (auto const& fact : built_in_tables().facts) program.insert(fact.id);
    EXPECT_EQ(folder, program);
    EXPECT_EQ(built_in_tables().version.size(), 16u);
    EXPECT_EQ(load_tables(data_files())->version, from_folder->version);
}

/// The files with the `which`-th mention of `key` in `name` taken out.
std::vector<NamedText> without(std::string const& name, std::string const& key, std::size_t which)
{
    auto files = data_files();
    for (auto& file : files) {
        if (file.name != name) continue;
        std::size_t at = 0;
        for (std::size_t i = 0; i <= which; ++i) at = file.text.find(key + " = \"", i == 0 ? 0 : at + 1);
        EXPECT_NE(at, std::string::npos);
        auto const opening = file.text.find('"', at);
        auto const closing = file.text.find('"', opening + 1);
        auto const comma = at >= 2 && file.text[at - 2] == ',' ? at - 2 : at;
        file.text.erase(comma, closing + 1 - comma);
    }
    return files;
}

TEST(DataFiles, LoaderRefusesARowWithoutSourceOrBasis)
{
    for (auto const& file : data_files()) {
        for (std::string const key : {"basis", "source"}) {
            std::string const mention = key + " = \"";
            std::size_t count = 0;
            for (auto at = file.text.find(mention); at != std::string::npos;
                 at = file.text.find(mention, at + 1)) {
                ++count;
            }
            ASSERT_GT(count, 3u) << file.name;
            for (std::size_t const which : {count / 3, count - 1}) {
                auto const loaded = load_tables(without(file.name, key, which));
                ASSERT_FALSE(loaded) << file.name << ": " << key << " " << which;
                EXPECT_THAT(loaded.error().message, HasSubstr("no `" + key + "`")) << file.name;
                EXPECT_THAT(loaded.error().message, HasSubstr(file.name + ":"));
            }
        }
    }
}

TEST(DataFiles, LoaderRefusesAMissingOrUnknownLaneOrder)
{
    auto const missing = load_tables(without("applications.toml", "lane-order", 0));
    ASSERT_FALSE(missing);
    EXPECT_THAT(missing.error().message, HasSubstr("no `lane-order`"));
    auto files = data_files();
    for (auto& file : files) {
        if (file.name != "applications.toml") continue;
        std::string const any = "lane-order = \"any\"";
        file.text.replace(file.text.find(any), any.size(), "lane-order = \"some\"");
    }
    auto const unknown = load_tables(files);
    ASSERT_FALSE(unknown);
    EXPECT_THAT(unknown.error().message,
                HasSubstr("`lane-order` is \"some\"; it is one of any, as-numbered"));
}

TEST(Tables, NamesTheNearestOfWhatIsNotThere)
{
    auto const& tables = built_in_tables();
    EXPECT_THAT(tables.category("OM6").error().message,
                HasSubstr("No fibre category `OM6`; did you mean OM"));
    EXPECT_EQ(tables.category("OM6").error().code, Errc::not_found);
    EXPECT_THAT(tables.rule_set("tia-568.3").error().message, HasSubstr("tia-568.3-"));
    EXPECT_THAT(tables.application("100GBASE-SR5").error().message, HasSubstr("100GBASE-SR"));
    EXPECT_THAT(tables.rule_set("zzzzzzzzzzzzzzzzzzz").error().message,
                HasSubstr("; there is tia-568.3-d, tia-568.3-e, iso-14763-3-2014"));
}

TEST(Tables, FindsByIdNameOrAlias)
{
    auto const& tables = built_in_tables();
    ASSERT_TRUE(tables.application("E40SR4"));
    EXPECT_EQ((*tables.application("E40SR4"))->name, "40GBASE-SR4");
    EXPECT_EQ(*tables.application("40gbase-sr4"), *tables.application("E40SR4"));
    EXPECT_EQ((*tables.application("100G-FR"))->id, "E100FR1");
    ASSERT_NE(tables.lane_map("P8"), nullptr);
    EXPECT_EQ(tables.lane_map("P9"), nullptr);
    ASSERT_NE(tables.grade("Bm"), nullptr);
    EXPECT_EQ(tables.grade("Bm")->p97.value, 0.60);
    ASSERT_NE(tables.fact("readiness.warm-up"), nullptr);
    EXPECT_EQ(tables.fact("readiness.warm-up")->value, 20);
    EXPECT_EQ(tables.fact("readiness.warm-up")->unit, "min");
    EXPECT_EQ(tables.fact("readiness.warm-up")->basis, Basis::common_practice);
    EXPECT_EQ(tables.fact("nothing"), nullptr);
}

TEST(Tables, LowConfidenceIsCarriedButOff)
{
    auto const& tables = built_in_tables();
    for (char const* id : {"F32-SM", "F64-SM", "F128S", "F128S-SM", "F256P", "IEDR-SM", "IHDR-SM",
                           "E800FR4-500", "E16TDR8", "E16TDR82"}) {
        ASSERT_TRUE(tables.application(id)) << id;
        EXPECT_FALSE((*tables.application(id))->enabled) << id;
    }
    EXPECT_TRUE((*tables.application("E100SR4"))->enabled);
    // Weak values never decide: the rule sets keep their enabled rows only.
    for (auto const& rules : tables.rule_sets) {
        for (Fact const* const fact : rules.facts()) EXPECT_TRUE(fact->enabled) << fact->id;
    }
    auto const* const er = *tables.application("E10ER");
    ASSERT_EQ(er->limits.size(), 1u);
    EXPECT_EQ(er->limits[0].length.value, 30000);
    ASSERT_EQ(er->weak_limits.size(), 1u);
    EXPECT_FALSE(er->weak_limits[0].length.enabled);
    ASSERT_TRUE(er->minimum_loss);
    EXPECT_EQ(er->minimum_loss->value, 5);
}

TEST(Names, ReadBackAsWhatTheyName)
{
    for (auto const basis :
         {Basis::standard, Basis::secondary, Basis::common_practice, Basis::memory, Basis::derived}) {
        EXPECT_EQ(parse_basis(name_of(basis)), basis);
    }
    EXPECT_EQ(parse_basis("sure"), std::nullopt);
    for (auto const kind : {FibreKind::multimode, FibreKind::single_mode}) {
        EXPECT_EQ(parse_fibre_kind(name_of(kind)), kind);
    }
    for (auto const grade : {CordGrade::reference, CordGrade::standard}) {
        EXPECT_EQ(parse_cord_grade(name_of(grade)), grade);
    }
}

// Oracle: how the publishers cite their own documents.
TEST(Source, IsCitedAsItsPublisherDoes)
{
    EXPECT_EQ((Source{"TIA-568.3", "E (2022)", "5.2"}.text()), "TIA-568.3-E (2022), 5.2");
    EXPECT_EQ((Source{"TIA-568.3", "D", ""}.text()), "TIA-568.3-D");
    EXPECT_EQ((Source{"IEC 61280-4-5", "2020", ""}.text()), "IEC 61280-4-5:2020");
    EXPECT_EQ((Source{"ISO/IEC 14763-3", "2014 + Cor1:2015", "Table 3"}.text()),
              "ISO/IEC 14763-3:2014 + Cor1:2015, Table 3");
    EXPECT_EQ((Source{"IEEE 802.3", "802.3ba", "86"}.text()), "IEEE 802.3 (802.3ba), 86");
    EXPECT_EQ((Source{"common practice", "", ""}.text()), "common practice");
}

} // namespace tables_test
} // namespace guidepin::facts
