// SPDX-License-Identifier: Apache-2.0
// The plain layouts as CSV text (RFC 4180: CRLF, quotes where needed), UTF-8 without mark, comma, decimal
// point. A text cell that a spreadsheet would take for a formula (first letter "=", "+", "-", "@", tab or CR)
// is written behind a single quote, and the readers take that quote off again: docs/formats/csv.md#formulas.
// Verified by: tests/unit/intake/write.cpp (round trip over random content), tests/unit/intake/readings.cpp.
#pragma once

#include "intake/readings.hpp"
#include "intake/reference.hpp"
#include "intake/schedule.hpp"

#include <string>
#include <string_view>

namespace guidepin::intake {

/// One text cell: guarded against formulas and quoted where RFC 4180 asks for it. Never for a number.
std::string csv_text_cell(std::string_view text);

std::string schedule_csv(std::vector<plant::LinkSpec> const& links);
std::string reference_csv(ReferencePowers const& powers);
std::string cord_check_csv(CordChecks const& checks);
std::string readings_csv(verdict::ReadingColumns const& readings);

} // namespace guidepin::intake
