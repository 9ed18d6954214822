// SPDX-License-Identifier: Apache-2.0
// The row of a link as a drawing, from the text that the derived tables keep. Verified by:
// tests/unit/job/link_row.cpp (the text there and back), tests/unit/job/finding_picture.cpp.
#pragma once

#include "drawing/row.hpp"
#include "plant/connector.hpp"

#include <string>
#include <string_view>

namespace guidepin::job {

/// Returns the row of a link for lists and certificates. `row` is DerivedLink::row.
drawing::Row row_of(std::string const& name, plant::Family const& family, std::string_view row);

} // namespace guidepin::job
