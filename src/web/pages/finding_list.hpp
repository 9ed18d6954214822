// SPDX-License-Identifier: Apache-2.0
// The findings at this moment: the last snapshot of the background findings, with every acknowledgement.
#pragma once

#include "web/desk.hpp"

#include <memory>
#include <string>
#include <vector>

namespace guidepin::web {

struct FindingsNow
{
    std::shared_ptr<FindingsSnapshot const> snapshot; ///< null while nothing is known yet
    std::vector<job::JobFinding> list;                ///< open ones first
    std::size_t open = 0;

    /// Words and pictures of the finding.
    ShownFinding const& shown(job::JobFinding const& entry) const;
};

FindingsNow findings_now(Desk& desk);
/// The address of the finding at this place of the list, on the findings page.
std::string finding_address(FindingsNow const& now, std::size_t index);

} // namespace guidepin::web
