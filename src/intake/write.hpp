// SPDX-License-Identifier: Apache-2.0
// The plain layouts as CSV text (RFC 4180: CRLF, quotes where needed), UTF-8 without mark, comma, decimal
// point. Text is written with base/csv_cell.hpp, so that no spreadsheet runs it:
// docs/formats/csv.md#formulas. Verified by: tests/unit/intake/write.cpp (round trip over random content),
// tests/unit/intake/readings.cpp.
#pragma once

#include "intake/readings.hpp"
#include "intake/reference.hpp"
#include "intake/schedule.hpp"

#include <string>
#include <string_view>

namespace guidepin::intake {

struct CsvStyle
{
    std::string_view line_end = "\r\n";
    bool lengths = true; ///< false: without the column of lengths
};

std::string schedule_csv(std::vector<plant::LinkSpec> const& links);
std::string reference_csv(ReferencePowers const& powers, CsvStyle const& style = {});
std::string cord_check_csv(CordChecks const& checks, CsvStyle const& style = {});
std::string readings_csv(verdict::ReadingColumns const& readings, CsvStyle const& style = {});

} // namespace guidepin::intake
