// SPDX-License-Identifier: Apache-2.0
// Timings worked by hand; the list of rules is the same in program, schema and manual. Each rule is broken
// once in tests/cli/audit.py.
#include "job/files/files.hpp"
#include "job/handover/audit_looks.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

namespace guidepin::job {
namespace audit_test {

using detail::haste_of;
using detail::Visit;
using ::testing::ElementsAre;
using ::testing::HasSubstr;

std::vector<Visit> every(std::int64_t seconds, int links)
{
    std::vector<Visit> visits;
    for (int i = 0; i < links; ++i) visits.push_back({i * seconds * 1000, static_cast<std::uint32_t>(i)});
    return visits;
}

TEST(AuditRules, EveryReasonToHoldHasItsRule)
{
    int kinds = 0;
    for (int kind = 1; !std::string_view{verdict::name_of(static_cast<verdict::HoldKind>(kind))}.empty();
         ++kind) {
        std::string_view const name = verdict::name_of(static_cast<verdict::HoldKind>(kind));
        bool const ruled = std::any_of(audit_rules().begin(), audit_rules().end(),
                                       [&](AuditRule const& rule) { return rule.id == name; });
        EXPECT_TRUE(ruled) << name;
        ++kinds;
    }
    EXPECT_EQ(kinds, static_cast<int>(verdict::HoldKind::position_not_checked));
}

TEST(Haste, LinksAnHourFromTheTimeBetween)
{
    // One link every 24 s is 150 an hour.
    EXPECT_FALSE(haste_of(every(24, 20), 150, 0));
    auto const haste = haste_of(every(20, 20), 150, 0);
    ASSERT_TRUE(haste);
    EXPECT_NEAR(haste->per_hour, 180, 1e-9);
    EXPECT_EQ(haste->links.size(), 20u);
}

TEST(Haste, AShortBurstIsFoundAndNamed)
{
    // Six calm links, four within 30 s, six calm ones: 3 changes in 30 s are 360 an hour.
    std::vector<Visit> visits;
    std::int64_t ms = 0;
    for (std::uint32_t i = 0; i < 16; ++i) {
        visits.push_back({ms, i});
        ms += i >= 6 && i < 9 ? 10'000 : 120'000;
    }
    auto const haste = haste_of(visits, 150, 0);
    ASSERT_TRUE(haste);
    EXPECT_EQ(haste->first, 6u);
    EXPECT_EQ(haste->changes, 3u);
    EXPECT_NEAR(haste->per_hour, 360, 1e-9);
    EXPECT_THAT(haste->links, ElementsAre(6u, 7u, 8u, 9u));
}

TEST(Haste, TwoLinksAtOnceAreNoPace)
{
    EXPECT_FALSE(haste_of(every(0, 3), 150, 0));
    EXPECT_TRUE(haste_of(every(0, 4), 150, 0));
    EXPECT_FALSE(haste_of({}, 150, 0));
}

TEST(Haste, RoundingToMinutesIsAllowedFor)
{
    // Two links a minute, times without seconds: 0, 0, 60, 60, 120, 120 ... is 120 an hour; without the
    // allowance three changes within one minute would be 180.
    std::vector<Visit> visits;
    for (std::uint32_t i = 0; i < 12; ++i) visits.push_back({static_cast<std::int64_t>(i / 2) * 60'000, i});
    EXPECT_TRUE(haste_of(visits, 150, 0));
    EXPECT_FALSE(haste_of(visits, 150, 60'000));
}

TEST(AuditRules, AreThoseOfSchemaAndManual)
{
    auto const schema =
        nlohmann::json::parse(read_file(GUIDEPIN_SOURCE_DIR "/docs/schemas/audit.json").value());
    auto const named = schema["properties"]["findings"]["items"]["properties"]["rule"]["enum"];
    std::vector<std::string> rules;
    std::string const manual = read_file(GUIDEPIN_SOURCE_DIR "/docs/methods/audit.md").value();
    for (AuditRule const& rule : audit_rules()) {
        rules.emplace_back(rule.id);
        EXPECT_THAT(manual, HasSubstr("`" + rules.back() + "`"));
        EXPECT_FALSE(rule.about.empty() || rule.settles.empty()) << rule.id;
    }
    EXPECT_EQ(named.get<std::vector<std::string>>(), rules);
}

} // namespace audit_test
} // namespace guidepin::job
