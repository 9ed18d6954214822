// SPDX-License-Identifier: Apache-2.0
// The set-ups that "guidepin setup" found, as text for people and as JSON for programs.
#pragma once

#include "job/plan/set_up_sheet.hpp"

#include <optional>
#include <string>
#include <vector>

#include <nlohmann/json.hpp>

namespace guidepin::cli {

/// A set-up that was found.
struct FoundSetup
{
    job::SetupGroup group; ///< number 0 without a job
    job::SetupSheet sheet;
};

struct FoundSetups
{
    std::vector<FoundSetup> groups;
    std::optional<job::JobSetups> whole; ///< of a job; its groups moved away
    std::vector<job::UnsolvedGroup> unsolved;
    report::JobHead head;
    std::vector<std::string> written; ///< files
};

/// The whole answer: one set-up with its steps, or a job's set-ups in a few lines each.
std::string setup_text(FoundSetups const& answer);
/// Why there is no set-up, and what would help.
std::string unsolved_text(std::vector<job::UnsolvedGroup> const& unsolved);
nlohmann::ordered_json setup_json(FoundSetups const& answer);

} // namespace guidepin::cli
