// SPDX-License-Identifier: Apache-2.0
// Oracle: the zone criteria of IEC 61300-3-35, edition 2 (2015), as quoted in secondary literature: each row
// of the printed table is tried just inside and just outside. Counts are whole numbers; sizes are compared as
// printed.
#include "setup/register.hpp"

#include <gtest/gtest.h>

namespace guidepin::setup {
namespace end_face_test {

std::string const edition = "2 (2015)";

bool passes(std::string type, std::string zone, std::vector<double> scratches, std::vector<double> defects)
{
    EndFaceInspection inspection;
    inspection.item = "TC1";
    inspection.type = std::move(type);
    inspection.findings = {{7, std::move(zone), std::move(scratches), std::move(defects)}};
    auto const verdict = judge_end_face(inspection, facts::built_in_tables().end_face_zones, edition);
    EXPECT_TRUE(verdict) << (verdict ? "" : verdict.error().message);
    if (!verdict) return false;
    for (auto const& breach : verdict->breaches) {
        EXPECT_EQ(breach.position, 7);
        EXPECT_EQ(breach.rule.source.document, "IEC 61300-3-35");
    }
    EXPECT_EQ(verdict->pass, verdict->breaches.empty());
    return verdict->pass;
}

std::vector<double> times(int count, double size)
{
    return std::vector<double>(static_cast<std::size_t>(count), size);
}

TEST(EndFace, single_mode_flat)
{
    EXPECT_TRUE(passes("single-mode-pc", "A", {}, {}));
    EXPECT_FALSE(passes("single-mode-pc", "A", {0.5}, {})); // none
    EXPECT_FALSE(passes("single-mode-pc", "A", {}, {0.5})); // none
    EXPECT_TRUE(passes("single-mode-pc", "B", times(20, 3), times(20, 1.9)));
    EXPECT_FALSE(passes("single-mode-pc", "B", {3.1}, {})); // none above 3
    EXPECT_TRUE(passes("single-mode-pc", "B", {}, times(5, 4)));
    EXPECT_FALSE(passes("single-mode-pc", "B", {}, times(6, 4))); // 5 of 2 to 5
    EXPECT_FALSE(passes("single-mode-pc", "B", {}, {5.1}));       // none above 5
}

TEST(EndFace, single_mode_angled)
{
    EXPECT_TRUE(passes("single-mode-apc", "A", times(4, 3), {}));
    EXPECT_FALSE(passes("single-mode-apc", "A", times(5, 3), {})); // 4 of up to 3
    EXPECT_FALSE(passes("single-mode-apc", "A", {3.1}, {}));
    EXPECT_FALSE(passes("single-mode-apc", "A", {}, {0.5}));
    EXPECT_TRUE(passes("single-mode-apc", "B", times(9, 40), times(5, 5)));
    EXPECT_FALSE(passes("single-mode-apc", "B", {}, times(6, 5)));
}

TEST(EndFace, multimode)
{
    EXPECT_TRUE(passes("multimode-pc", "A", times(20, 3), times(4, 5)));
    EXPECT_FALSE(passes("multimode-pc", "A", {3.1}, {}));
    EXPECT_FALSE(passes("multimode-pc", "A", {}, times(5, 5))); // 4 of up to 5
    EXPECT_FALSE(passes("multimode-pc", "A", {}, {5.1}));
    EXPECT_TRUE(passes("multimode-pc", "B", times(20, 5), times(5, 10)));
    EXPECT_FALSE(passes("multimode-pc", "B", {5.1}, {}));
    EXPECT_FALSE(passes("multimode-pc", "B", {}, times(6, 10)));
    EXPECT_FALSE(passes("multimode-pc", "B", {}, {10.1}));
}

// On rectangular ferrules only zones A and B carry criteria; loose debris beyond is to be cleaned.
TEST(EndFace, arrays_have_two_zones)
{
    EndFaceInspection inspection;
    inspection.item = "TC1";
    inspection.type = "multimode-pc";
    inspection.findings = {{3, "D", {}, {200}}};
    inspection.loose_debris = true;
    auto const rows = std::span<facts::EndFaceZone const>{facts::built_in_tables().end_face_zones};
    auto const array = judge_end_face(inspection, rows, edition);
    ASSERT_TRUE(array);
    EXPECT_TRUE(array->pass);
    EXPECT_NE(array->note.find("debris"), std::string::npos);
    EXPECT_NE(array->note.find("C, D"), std::string::npos);
    auto const single = judge_end_face(inspection, rows, edition, false);
    ASSERT_TRUE(single);
    EXPECT_FALSE(single->pass); // none above 30
}

TEST(EndFace, errors_name_what_is_off)
{
    auto const rows = std::span<facts::EndFaceZone const>{facts::built_in_tables().end_face_zones};
    EndFaceInspection inspection;
    inspection.item = "TC1";
    inspection.type = "multimode-pc";
    EXPECT_TRUE(judge_end_face(inspection, rows, edition)->pass);
    EXPECT_EQ(judge_end_face(inspection, rows, "3 (2022)").error().code, Errc::not_found);
    inspection.findings = {{1, "Q", {1}, {}}};
    EXPECT_EQ(judge_end_face(inspection, rows, edition).error().code, Errc::not_found);
    inspection.findings = {{1, "A", {-1}, {}}};
    EXPECT_EQ(judge_end_face(inspection, rows, edition).error().code, Errc::invalid_input);
}

} // namespace end_face_test
} // namespace guidepin::setup
