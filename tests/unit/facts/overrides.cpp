// SPDX-License-Identifier: Apache-2.0
// Oracle: the contract in facts/overrides.hpp; a replaced number is found everywhere it is computed with.
#include "facts/overrides.hpp"

#include <fmt/format.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace guidepin::facts {
namespace overrides_test {

using ::testing::HasSubstr;

Result<Tables> overridden(std::string const& rows)
{
    return with_overrides(
        built_in_tables(),
        NamedText{"own.toml", "format = \"guidepin-facts\"\nkind = \"overrides\"\n[sources]\n"
                              "sheet = { document = \"Maker's sheet\", edition = \"3\" }\n" +
                                  rows});
}

std::string row(std::string const& id, std::string const& value, std::string const& unit)
{
    return fmt::format(
        "[[fact]]\nid = \"{}\"\nvalue = {}\nunit = \"{}\"\nsource = \"sheet\"\nbasis = \"standard\"\n", id,
        value, unit);
}

TEST(Overrides, ReachEveryCopyOfTheValue)
{
    auto const tables = overridden(
        row("readiness.warm-up", "30", "min") + row("uncertainty.meter-linearity.multimode", "0.03", "dB") +
        row("application.E40SR4.OM4.loss", "1.4", "dB") +
        row("tia-568.3-e.coefficient.OM4.850", "2.8", "dB/km") +
        row("fibre.OM4.group-index.850", "1.482", "1") + row("reflectance.FRn.counted-above", "-50", "dB") +
        row("reflectance.LRn.count-4", "-34", "dB") + row("grade.Bm.mean", "0.25", "dB"));
    ASSERT_TRUE(tables) << tables.error().message;
    EXPECT_EQ(tables->fact("readiness.warm-up")->value, 30);
    EXPECT_EQ(tables->fact("readiness.warm-up")->source.document, "Maker's sheet");
    EXPECT_EQ(tables->fact("readiness.warm-up")->basis, Basis::standard);
    EXPECT_EQ(tables->fact("readiness.warm-up")->quantity,
              built_in_tables().fact("readiness.warm-up")->quantity);
    EXPECT_EQ(tables->uncertainty[0].value.at("multimode").value, 0.03);
    for (auto const& limit : (*tables->application("E40SR4"))->limits) {
        if (limit.category == "OM4") {
            EXPECT_EQ(limit.loss->value, 1.4);
        }
    }
    EXPECT_EQ((*tables->rule_set("tia-568.3-e"))->coefficient("OM4", 850_nm)->value, 2.8);
    EXPECT_EQ((*tables->rule_set("tia-568.3-d"))->coefficient("OM4", 850_nm)->value, 3.0);
    EXPECT_EQ((*tables->category("OM4"))->group_index.at(850).value, 1.482);
    EXPECT_EQ(tables->reflectance_rule("FRn")->counted_above_db, -50);
    EXPECT_EQ(tables->reflectance_rule("LRn")->by_count.at(4).value, -34);
    EXPECT_EQ(tables->grade("Bm")->mean.value, 0.25);
    EXPECT_NE(tables->version, built_in_tables().version);
}

// Every number that can be replaced is replaced in turn, and no copy of it keeps the old value.
TEST(Overrides, LeaveNoOldCopyBehind)
{
    int numbers = 0;
    std::string rows;
    for (auto const& fact : built_in_tables().facts) {
        if (!fact.text.empty()) continue;
        ++numbers;
        rows += fmt::format(
            "[[fact]]\nid = \"{}\"\nvalue = {}\nunit = \"{}\"\nsource = \"sheet\"\nbasis = \"standard\"\n",
            fact.id, fact.value, fact.unit);
    }
    ASSERT_GT(numbers, 500);
    auto const tables = overridden(rows);
    ASSERT_TRUE(tables) << tables.error().message;
    auto const check = [](Fact const& fact) { EXPECT_EQ(fact.source.document, "Maker's sheet") << fact.id; };
    for (auto const& rules : tables->rule_sets) {
        for (Fact const* const fact : rules.facts()) check(*fact);
    }
    for (auto const& application : tables->applications) {
        for (auto const& limit : application.limits) {
            check(limit.length);
            if (limit.loss) check(*limit.loss);
        }
    }
    for (auto const& category : tables->categories) {
        for (auto const& [wavelength, fact] : category.group_index) check(fact);
    }
    for (auto const& contribution : tables->uncertainty) {
        for (auto const& [key, fact] : contribution.value) check(fact);
        for (auto const& [key, fact] : contribution.least) check(fact);
    }
    for (auto const& rule : tables->reflectance_rules) {
        if (rule.each) check(*rule.each);
        for (auto const& [count, fact] : rule.by_count) check(fact);
    }
    for (auto const& grade : tables->grades) check(grade.p97);
}

TEST(Overrides, TellEachFlawByLine)
{
    auto const flawed =
        overridden(row("readiness.warmup", "30", "min") + row("readiness.drift-check", "0.2", "min") +
                   row("colour.fibre.1", "3", "dB") + row("reflectance.MM20.each", "20", "dB") +
                   row("readiness.warm-up", "30", "min") + row("readiness.warm-up", "31", "min"));
    ASSERT_FALSE(flawed);
    auto const& message = flawed.error().message;
    EXPECT_THAT(message,
                HasSubstr("own.toml:5: fact: no fact `readiness.warmup`; did you mean readiness.warm-up"));
    EXPECT_THAT(message, HasSubstr("own.toml:11: fact: unit `min`; this value is in dB"));
    EXPECT_THAT(message, HasSubstr("own.toml:17: fact: `colour.fibre.1` is words (\"blue\"); only numbers"));
    EXPECT_THAT(message, HasSubstr("own.toml:23: fact: value 20 dB lies outside -1000000000 to 0"));
    EXPECT_THAT(message, HasSubstr("own.toml:35: fact: `readiness.warm-up` is given twice"));
}

TEST(Overrides, NeedSourceAndBasis)
{
    auto const bare = overridden("[[fact]]\nid = \"readiness.warm-up\"\nvalue = 30\nunit = \"min\"\n");
    ASSERT_FALSE(bare);
    EXPECT_THAT(bare.error().message, HasSubstr("own.toml:5: fact: no `source`"));
    EXPECT_THAT(bare.error().message, HasSubstr("own.toml:5: fact: no `basis`"));
}

} // namespace overrides_test
} // namespace guidepin::facts
