// SPDX-License-Identifier: Apache-2.0
// What readings are judged by: the task of each link, and how far each reference and cord check can be
// trusted by itself, before anything is learned from the links. Verified by: tests/unit/job/job.cpp,
// tests/unit/job/reference_cover.cpp.
#pragma once

#include "job/groundwork/reference_cover.hpp"
#include "job/state/state.hpp"
#include "plant/link_model.hpp"
#include "verdict/cord_check.hpp"
#include "verdict/judge.hpp"
#include "verdict/reference.hpp"
#include "verdict/timeline.hpp"

#include <memory>
#include <vector>

namespace guidepin::job {

/// A reference and how far it can be trusted.
struct ReferenceStanding
{
    std::size_t entry = 0; ///< index into JobState::references
    verdict::ReferenceAssessment assessment;
    std::vector<std::size_t> checks; ///< indices into JobState::checks, by time
};

struct CheckStanding
{
    std::size_t entry = 0; ///< index into JobState::checks
    verdict::CordAssessment assessment;
};

struct Groundwork
{
    static constexpr std::uint32_t no_test = UINT32_MAX;

    verdict::JudgeTasks tasks;
    std::unique_ptr<verdict::RowsByLink> rows;
    std::vector<std::uint8_t> hold;                       ///< by row: 0, or a verdict::HoldKind
    std::unique_ptr<verdict::ReferenceTimeline> timeline; ///< says the reason in words
    verdict::Verdicts verdicts; ///< columns at once; states and figures when assess() has judged
    std::vector<std::shared_ptr<plant::LinkModel const>> models; ///< by link, null for unscheduled ones
    std::vector<std::uint32_t>
        last_test;          ///< by link: index into JobState::tests, no_test where there is none
    std::vector<int> inner; ///< connections inside each scheduled link
    std::vector<ReferenceStanding> references;
    std::vector<CheckStanding> checks;
    std::vector<ReferenceCover> covers; ///< by index into JobState::references

    std::size_t links() const { return verdicts.links.size(); }
};

} // namespace guidepin::job
