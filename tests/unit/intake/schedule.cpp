// SPDX-License-Identifier: Apache-2.0
#include "intake/schedule.hpp"

#include "intake/write.hpp"
#include "intake_readings.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

namespace guidepin::intake {
namespace schedule_test {

using ::testing::ElementsAre;
using ::testing::HasSubstr;

Intake<Schedule> read(std::string const& text, ReadOptions const& options = {})
{
    auto result = read_schedule(text, options);
    EXPECT_TRUE(result.has_value()) << (result ? "" : result.error().message);
    return result ? std::move(*result) : Intake<Schedule>{};
}

TEST(Schedule, WholeRow)
{
    auto const found =
        read("link,zone,end_a,end_b,category,length_m,family,fibres,trunk_type,pins_a,pins_b,face,adapter_a,"
             "adapter_b,"
             "inner_connections,splices,applications\r\n"
             "L-1,Hall "
             "1,R1/A,R2/A,OS2,120.5,mpo-12,\"1-4,9-12\",B,unpinned,pinned,angled,aligned,none,2,1,one|two; "
             "three\r\n");
    ASSERT_EQ(found.content.links.size(), 1u);
    plant::LinkSpec const& link = found.content.links[0];
    EXPECT_EQ(link.id, "L-1");
    EXPECT_EQ(link.zone, "Hall 1");
    EXPECT_EQ(link.a.name, "R1/A");
    EXPECT_EQ(link.b.name, "R2/A");
    EXPECT_EQ(link.category, "OS2");
    EXPECT_EQ(link.length.value(), 120.5);
    EXPECT_EQ(link.family.name(), "mpo-12");
    EXPECT_EQ(plant::occupancy_text(link.fibres), "1-4,9-12");
    EXPECT_EQ(link.trunk_type, "B");
    EXPECT_EQ(link.a.pins, plant::Pins::unpinned);
    EXPECT_EQ(link.b.pins, plant::Pins::pinned);
    EXPECT_EQ(link.face, plant::Face::angled);
    EXPECT_EQ(link.a.fitting, plant::EndFitting::aligned_adapter);
    EXPECT_EQ(link.b.fitting, plant::EndFitting::bare_plug);
    EXPECT_EQ(link.inner_connections, 2);
    EXPECT_EQ(link.splices, 1);
    EXPECT_THAT(link.applications, ElementsAre("one", "two", "three"));
    EXPECT_THAT(found.content.lines, ElementsAre(2u));
}

TEST(Schedule, DefaultsAndFeet)
{
    auto const found = read("Link;Category;Length_ft;Family;Fibres;Trunk "
                            "Type\nL;OM4;98,5;mpo-16;all;A\nM;OM4;30 m;mpo-12;12;A\n");
    ASSERT_EQ(found.content.links.size(), 2u) << problems_text(found.bad);
    EXPECT_DOUBLE_EQ(found.content.links[0].length.value(), 98.5 * 0.3048);
    EXPECT_EQ(found.content.links[1].length.value(), 30);
    EXPECT_EQ(found.content.links[0].a.pins, plant::LinkSpec{}.a.pins);
    EXPECT_EQ(found.content.links[0].face, plant::Face::flat);
    EXPECT_EQ(found.content.links[0].fibres.count(), 16u);
}

TEST(Schedule, BadCellsAllAtOnce)
{
    auto const found = read("link,category,length_m,family,fibres,trunk_type,pins_a,splices\n"
                            "L,OM4,30,mpo-12,12,B,pinned,0\n"
                            "L,OM4,0,mpo-99,13,B,loose,-1\n"
                            "M,,thirty,mpo-12,99,B,,\n");
    EXPECT_TRUE(found.refused);
    EXPECT_TRUE(found.content.links.empty());
    EXPECT_EQ(found.bad.rows, 2u);
    std::vector<std::string> told;
    for (Problem const& problem : found.bad.listed) told.push_back(problem.column + "=" + problem.value);
    EXPECT_THAT(told, ElementsAre("length_m=0", "family=mpo-99", "pins_a=loose", "splices=-1", "link=L",
                                  "category=", "length_m=thirty", "fibres=99"));
    EXPECT_THAT(found.bad.listed[4].reason, HasSubstr("line 2"));
}

TEST(Schedule, WholeFileFaults)
{
    auto const missing = read_schedule("link,category,family,fibres,trunk_type\n", {});
    ASSERT_FALSE(missing.has_value());
    EXPECT_THAT(missing.error().message, HasSubstr("'length_m' or 'length_ft' or 'length' is missing"));
    EXPECT_FALSE(read_schedule("", {}).has_value());
    EXPECT_EQ(read("link,category,length_m,family,fibres,trunk_type\n").rows, 0u);
}

RC_GTEST_PROP(Schedule, WrittenAndReadAgainIsTheSame, ())
{
    std::vector<plant::LinkSpec> links;
    int const count = *rc::gen::inRange(0, 12);
    for (int i = 0; i < count; ++i) {
        plant::LinkSpec link;
        link.id = std::to_string(i) + *arbitrary_name();
        link.zone = *arbitrary_name();
        link.a.name = *arbitrary_name();
        link.b.name = *arbitrary_name();
        link.a.pins = *rc::gen::element(plant::Pins::pinned, plant::Pins::unpinned);
        link.b.fitting = *rc::gen::element(plant::EndFitting::opposed_adapter,
                                           plant::EndFitting::aligned_adapter, plant::EndFitting::bare_plug);
        link.category = *arbitrary_name();
        link.length = Metres{*rc::gen::inRange(1, 100'000) / 7.0};
        link.family =
            *plant::parse_family(*rc::gen::element<std::string>("mpo-12", "mpo-16", "mpo-24", "mpo-32"));
        auto const position = static_cast<std::size_t>(*rc::gen::inRange(0, link.family.positions()));
        link.fibres.set(position);
        link.fibres.set(static_cast<std::size_t>(*rc::gen::inRange(0, link.family.positions())));
        link.trunk_type = *arbitrary_name();
        link.face = *rc::gen::element(plant::Face::flat, plant::Face::angled);
        link.splices = *rc::gen::inRange(0, 5);
        link.inner_connections = *rc::gen::inRange(0, 5);
        link.applications = {"one", "two words"};
        links.push_back(link);
    }
    auto const again = read_schedule(schedule_csv(links), {});
    RC_ASSERT(again.has_value());
    RC_ASSERT(again->content.links.size() == links.size());
    for (std::size_t i = 0; i < links.size(); ++i) {
        plant::LinkSpec const& a = links[i];
        plant::LinkSpec const& b = again->content.links[i];
        RC_ASSERT(a.id == b.id);
        RC_ASSERT(a.zone == b.zone);
        RC_ASSERT(a.a.name == b.a.name);
        RC_ASSERT(a.b.name == b.b.name);
        RC_ASSERT(a.a.pins == b.a.pins);
        RC_ASSERT(a.b.fitting == b.b.fitting);
        RC_ASSERT(a.category == b.category);
        RC_ASSERT(a.length.value() == b.length.value());
        RC_ASSERT(a.family == b.family);
        RC_ASSERT(a.fibres == b.fibres);
        RC_ASSERT(a.trunk_type == b.trunk_type);
        RC_ASSERT(a.face == b.face);
        RC_ASSERT(a.splices == b.splices);
        RC_ASSERT(a.inner_connections == b.inner_connections);
        RC_ASSERT(a.applications == b.applications);
    }
}

} // namespace schedule_test
} // namespace guidepin::intake
