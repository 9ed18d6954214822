// SPDX-License-Identifier: Apache-2.0
// Grouping, kit list, alternatives, and links taken from a schedule. Orders are checked in
// tests/oracle/setup/job_order.cpp.
#include "setup/job_setup.hpp"
#include "setup/implied.hpp"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <map>
#include <random>
#include <set>

namespace guidepin::setup {
namespace job_setup_test {

using plant::Pins;

plant::Family const mpo12{plant::Family::Key::mpo12, 1, 12};

plant::LinkSpec spec_of(std::string id, Pins a, Pins b, char const* fibres = "12")
{
    plant::LinkSpec spec;
    spec.id = std::move(id);
    spec.a = {"A", a, plant::EndFitting::opposed_adapter};
    spec.b = {"B", b, plant::EndFitting::opposed_adapter};
    spec.category = "OM4";
    spec.length = Metres{40};
    spec.family = mpo12;
    spec.fibres = *plant::parse_occupancy(fibres, mpo12);
    spec.trunk_type = "B";
    return spec;
}

JobLinks link_of(plant::LinkSpec const& spec)
{
    auto const link = job_link(spec, facts::built_in_tables());
    EXPECT_TRUE(link) << link.error().message;
    return *link;
}

JobQuestion job_of(std::vector<JobLinks> links)
{
    JobQuestion job;
    job.source = port_of(mpo12, Pins::pinned);
    job.meter = port_of(mpo12, Pins::pinned);
    job.links = std::move(links);
    job.kit = complete_kit(job.source, job.meter, job.links[0].cabling, false);
    return job;
}

TEST(JobLinks, come_from_the_schedule)
{
    JobLinks const link = link_of(spec_of("L1", Pins::pinned, Pins::unpinned, "8"));
    EXPECT_EQ(link.cabling.first.plug.pins, Pins::pinned);
    EXPECT_EQ(link.cabling.second.plug.pins, Pins::unpinned);
    EXPECT_EQ(plant::occupancy_text(link.cabling.first.plug.occupied), "1-4,9-12");
    EXPECT_EQ(link.cabling.glass.kind, facts::FibreKind::multimode);
    ASSERT_TRUE(link.cabling.expected);
    plant::LinkSpec unknown = spec_of("L1", Pins::pinned, Pins::unpinned);
    unknown.category = "OM9";
    EXPECT_EQ(job_link(unknown, facts::built_in_tables()).error().code, Errc::not_found);
}

TEST(JobGroups, eight_and_twelve_fibres_share_one_set_up)
{
    auto const plan = plan_job(job_of({link_of(spec_of("L8", Pins::pinned, Pins::pinned, "8")),
                                       link_of(spec_of("L12", Pins::pinned, Pins::pinned, "12"))}));
    ASSERT_TRUE(plan) << plan.error().message;
    // Cords for twelve serve eight as well; the complete kit was made for the eight of the first link only.
    JobQuestion job = job_of({link_of(spec_of("L12", Pins::pinned, Pins::pinned, "12")),
                              link_of(spec_of("L8", Pins::pinned, Pins::pinned, "8"))});
    auto const twelve = plan_job(job);
    ASSERT_TRUE(twelve);
    ASSERT_EQ(twelve->groups.size(), 1U);
    EXPECT_EQ(twelve->groups[0].links.size(), 2U);
    EXPECT_TRUE(twelve->unsolved.empty());
}

TEST(JobGroups, faces_are_kept_apart_and_what_cannot_be_done_is_told)
{
    plant::LinkSpec angled = spec_of("L2", Pins::pinned, Pins::pinned);
    angled.face = plant::Face::angled;
    auto const plan = plan_job(job_of({link_of(spec_of("L1", Pins::pinned, Pins::pinned)), link_of(angled)}));
    ASSERT_TRUE(plan);
    ASSERT_EQ(plan->groups.size(), 1U);
    ASSERT_EQ(plan->unsolved.size(), 1U);
    EXPECT_EQ(plan->unsolved[0].ids, std::vector<std::string>{"L2"});
    EXPECT_FALSE(plan->unsolved[0].none.blockers.empty());
}

TEST(JobGroups, kit_list_and_alternatives)
{
    JobQuestion job = job_of({link_of(spec_of("PP", Pins::pinned, Pins::pinned)),
                              link_of(spec_of("UU", Pins::unpinned, Pins::unpinned))});
    job.permitted = {Arrangement::one_cord, Arrangement::changer};
    auto const plan = plan_job(job);
    ASSERT_TRUE(plan);
    ASSERT_EQ(plan->groups.size(), 2U);
    EXPECT_EQ(plan->cost.pin_changes, 0);
    EXPECT_EQ(plan->cost.references, 2); // another launch cord, another reference
    int cords = 0;
    for (KitLine const& line : plan->kit_list) {
        EXPECT_GE(line.needed, 1) << line.text;
        EXPECT_GE(line.in_kit, line.needed) << line.text;
        cords += static_cast<int>(line.ids.size());
        if (line.spare > 0) {
            EXPECT_FALSE(line.why.empty());
        }
    }
    EXPECT_GE(cords, 4);
    bool three_cord = false;
    for (JobAlternative const& other : plan->alternatives) {
        EXPECT_NE(other.cost.has_value(), !other.blocker.empty()) << other.name;
        if (other.name == "three-cord for everything") {
            three_cord = true;
            ASSERT_TRUE(other.cost);
            EXPECT_EQ(other.cost->pin_changes, 0);
            EXPECT_EQ(other.most_joints_in_reference, 2);
        }
        if (other.name == "one-cord for everything") {
            EXPECT_FALSE(other.cost); // the unpinned cabling needs pins changed
        }
    }
    EXPECT_TRUE(three_cord);
}

TEST(JobGroups, many_kinds_are_ordered_by_the_nearest_next)
{
    std::vector<JobLinks> links;
    JobQuestion job;
    job.source = port_of(mpo12, Pins::pinned);
    job.meter = port_of(mpo12, Pins::pinned);
    for (double const core : {50.0, 62.5}) {
        for (int pins = 0; pins < 4; ++pins) {
            JobLinks link;
            link.ids = {fmt::format("L{}-{}", core, pins)};
            auto const p = [](bool pinned) { return pinned ? Pins::pinned : Pins::unpinned; };
            link.cabling.first = {"a", plug_of(mpo12, p((pins & 1) != 0)),
                                  plant::EndFitting::opposed_adapter};
            link.cabling.second = {"b", plug_of(mpo12, p((pins & 2) != 0)),
                                   plant::EndFitting::opposed_adapter};
            link.cabling.glass.core_um = core;
            links.push_back(link);
        }
        Kit const kit = complete_kit(job.source, job.meter, links.back().cabling, false);
        for (Cord cord : kit.cords) {
            cord.id += fmt::format("/{}", core);
            job.kit.cords.push_back(cord);
        }
        job.kit.adapters = kit.adapters;
    }
    job.links = links;
    job.permitted = {Arrangement::one_cord, Arrangement::changer};
    auto const few = plan_job(job, false);
    ASSERT_TRUE(few);
    EXPECT_EQ(few->groups.size(), 6U); // three kinds of each glass: the mixed ones are one kind
    EXPECT_FALSE(few->exact);
    EXPECT_TRUE(few->unsolved.empty());
    job.either_end = false; // now the mixed ones are two kinds
    auto const one_way = plan_job(job, false);
    ASSERT_TRUE(one_way);
    EXPECT_EQ(one_way->groups.size(), 8U);
    int references = 0;
    std::set<std::string> seen;
    for (JobGroup const& group : one_way->groups) {
        references += group.new_reference ? 1 : 0;
        EXPECT_EQ(group.new_reference, group.plan.reference.has_value());
        for (GroupedLink const& link : group.links) {
            EXPECT_TRUE(seen.insert(link.id).second);
            EXPECT_FALSE(link.from_end_b);
        }
    }
    EXPECT_EQ(seen.size(), links.size());
    EXPECT_EQ(references, one_way->cost.references);
    EXPECT_GE(references, 2); // two glasses cannot share a reference
    EXPECT_LT(references, 8); // and within one some go on
    EXPECT_EQ(one_way->cost.pin_changes, 0);
}

// Oracle: the same job with an entry for each link.
TEST(JobGroups, alike_links_in_one_entry_are_planned_like_links_one_by_one)
{
    std::mt19937_64 random{20};
    auto const pins = [&] { return random() % 2 == 0 ? Pins::pinned : Pins::unpinned; };
    int together = 0;
    for (int round = 0; round < 40; ++round) {
        std::vector<JobLinks> single, alike;
        for (int i = 0; i < 12; ++i) {
            JobLinks const link =
                link_of(spec_of(fmt::format("L{}", i), pins(), pins(), random() % 3 == 0 ? "8" : "12"));
            single.push_back(link);
            auto const same = std::find_if(alike.begin(), alike.end(), [&](JobLinks const& each) {
                return each.cabling.first.plug.pins == link.cabling.first.plug.pins &&
                       each.cabling.second.plug.pins == link.cabling.second.plug.pins &&
                       each.cabling.first.plug.occupied == link.cabling.first.plug.occupied;
            });
            if (same == alike.end())
                alike.push_back(link);
            else
                same->ids.push_back(link.ids.front());
        }
        ASSERT_LT(alike.size(), single.size());
        auto const expected = plan_job(job_of(single));
        auto const found = plan_job(job_of(alike));
        ASSERT_TRUE(expected && found);
        EXPECT_EQ(found->cost, expected->cost);
        ASSERT_EQ(found->groups.size(), expected->groups.size());
        for (std::size_t g = 0; g < found->groups.size(); ++g) {
            std::map<std::string, bool> one, other;
            for (GroupedLink const& link : found->groups[g].links) one.emplace(link.id, link.from_end_b);
            for (GroupedLink const& link : expected->groups[g].links) other.emplace(link.id, link.from_end_b);
            EXPECT_EQ(one, other);
            EXPECT_EQ(found->groups[g].why, expected->groups[g].why);
            together += one.size() > 1 ? 1 : 0;
        }
        ASSERT_EQ(found->unsolved.size(), expected->unsolved.size());
        for (std::size_t u = 0; u < found->unsolved.size(); ++u)
            EXPECT_EQ(found->unsolved[u].ids.size(), expected->unsolved[u].ids.size());
        ASSERT_EQ(found->alternatives.size(), expected->alternatives.size());
        for (std::size_t a = 0; a < found->alternatives.size(); ++a) {
            EXPECT_EQ(found->alternatives[a].cost, expected->alternatives[a].cost);
            EXPECT_EQ(found->alternatives[a].blocker, expected->alternatives[a].blocker);
        }
    }
    EXPECT_GT(together, 20);
}

TEST(JobGroups, says_which_end_to_launch_at_only_where_the_ends_differ)
{
    auto const why = [](Pins a, Pins b) {
        auto const plan = plan_job(job_of({link_of(spec_of("L1", a, b))}));
        return plan && !plan->groups.empty() ? plan->groups[0].why : std::string("no set-up");
    };
    EXPECT_TRUE(why(Pins::pinned, Pins::pinned).starts_with("Both ends of the cabling are pinned;"));
    EXPECT_TRUE(why(Pins::pinned, Pins::unpinned).starts_with("Launch at the pinned end, whose pins"));
}

TEST(JobGroups, refuses_what_does_not_hold)
{
    JobQuestion job = job_of({link_of(spec_of("L1", Pins::pinned, Pins::pinned))});
    job.links.push_back(job.links[0]);
    EXPECT_NE(plan_job(job).error().message.find("L1"), std::string::npos);
    job.links.clear();
    EXPECT_FALSE(plan_job(job));
}

} // namespace job_setup_test
} // namespace guidepin::setup
