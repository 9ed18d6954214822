// SPDX-License-Identifier: Apache-2.0
// A whole job: links grouped into as few set-ups as possible, from which end each is launched, in which
// order, with what kit, and what another way would cost. Method: docs/methods/setup.md#job. Verified by:
// tests/oracle/setup/job_order.cpp (every order and every end tried), tests/unit/setup/job_setup.cpp.
#pragma once

#include "setup/plan.hpp"

#include <compare>
#include <optional>
#include <string>
#include <vector>

namespace guidepin::setup {

/// Links whose cabling differs in nothing but its names: what holds for one of them holds for all, and is
/// worked out once. Many entries may be alike; one entry for thousands of links is faster.
struct JobLinks
{
    std::vector<std::string> ids;
    Cabling cabling; ///< first is end a; a name of an end is empty where the links have different ones
};
/// From a row of the schedule: ends, glass by the category's kind and core, expected map. Errors: those of
/// plant::build_link, not_found for the category, invalid_input for a link that does not end in array plugs.
Result<JobLinks> job_link(plant::LinkSpec const& spec, facts::Tables const& tables,
                          plant::Convention convention = plant::Convention::fixed_pinned);

struct JobQuestion
{
    Port source, meter;
    Kit kit;
    std::vector<Arrangement> permitted{Arrangement::one_cord};
    bool cord_check = true;
    bool either_end = true;          ///< false: every link is launched from its end a
    bool reference_may_go_on = true; ///< false: a new reference for each set-up
    std::vector<JobLinks> links;
};

/// Compared in this order.
struct JobCost
{
    int setups = 0;
    int pin_changes = 0;
    int references = 0;
    int reference_matings = 0; ///< of one link in each set-up
    friend auto operator<=>(JobCost const&, JobCost const&) = default;
};

struct GroupedLink
{
    std::string id;
    bool from_end_b = false; ///< the launch cord goes to end b
    friend bool operator==(GroupedLink const&, GroupedLink const&) = default;
};

/// An entry of JobQuestion::links in a group.
struct GroupedEntry
{
    std::size_t entry = 0;
    bool from_end_b = false;
};

struct JobGroup
{
    std::vector<GroupedEntry> entries;
    std::vector<GroupedLink> links; ///< those of the entries, in their order
    Question question; ///< with the kit as it is when this set-up begins; the cabling stands for all links
    Plan plan;
    bool new_reference = true;
    std::string why; ///< in words: which pins, from which end
};

struct KitLine
{
    std::string text; ///< "reference-grade mpo-12 cord, unpinned to pinned (pins exchangeable)"
    int needed = 0;
    int spare = 0;
    int in_kit = 0; ///< of this kind
    std::vector<std::string> ids;
    std::string why; ///< of the spare
};

struct UnsolvedLinks
{
    std::vector<std::string> ids;
    NoPlan none;
};

struct JobAlternative
{
    std::string name; ///< "three-cord reference for everything", "always from end a"
    std::optional<JobCost> cost;
    int most_joints_in_reference = 0;
    std::string blocker; ///< why it is not possible
};

struct JobPlan
{
    std::vector<JobGroup> groups; ///< in order
    JobCost cost;
    bool exact = true; ///< false: more kinds of link than exact_kinds, ordered by the nearest next
    std::vector<KitLine> kit_list;
    std::vector<UnsolvedLinks> unsolved;
    std::vector<JobAlternative> alternatives;
};

/// Up to this many different kinds of link the order is the best of all.
constexpr int exact_kinds = 5;

/// Errors: invalid_input (kit, ports, links that do not hold, or no links).
Result<JobPlan> plan_job(JobQuestion const& question, bool with_alternatives = true);

} // namespace guidepin::setup
