// SPDX-License-Identifier: Apache-2.0
// The job card of a set-up: the steps of its sheet, one action each, with advice in fewer words. Verified by:
// tests/unit/job/set_up.cpp, tests/golden/job (one card).
#pragma once

#include "job/entry/set_up_record.hpp"
#include "report/job_card.hpp"
#include "report/locale.hpp"
#include "units/instant.hpp"

#include <string>

namespace guidepin::job {

/// Returns what the card shows, from a sheet just made or read from its record.
report::JobCard job_card_of(SetupSheet const& sheet, report::JobHead const& head);

struct CardOptions
{
    report::Paper paper = report::Paper::a4;
    report::Locale locale;
    Instant made; ///< the time to print
    std::string program = "0.1.0";
};
/// Returns the bytes of the card's PDF. Errors: refused when its steps do not fit on two sides; environment
/// without fonts.
Result<std::string> job_card_pdf(SetupSheet const& sheet, report::JobHead const& head,
                                 CardOptions const& options);

} // namespace guidepin::job
