// SPDX-License-Identifier: Apache-2.0
// The schedule: one row a link. Layout: docs/formats/csv.md.
// Verified by: tests/unit/intake/schedule.cpp (round trip; every odd input), tests/fuzz/csv_schedule.cpp.
#pragma once

#include "intake/file.hpp"
#include "plant/link.hpp"

namespace guidepin::intake {

struct Schedule
{
    std::vector<plant::LinkSpec> links;
    std::vector<std::uint32_t> lines; ///< where in the file each is
};

/// Reads links in file order. Errors (invalid_input) are about the whole file: empty, no header, a column
/// missing, not UTF-8. The result lists what is wrong with single rows. Category, trunk type and
/// applications are taken as text: whether they are known is the job's question. A link named twice is bad
/// from its second row on.
Result<Intake<Schedule>> read_schedule(std::string_view file, ReadOptions const& options = {});

} // namespace guidepin::intake
