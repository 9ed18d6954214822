// SPDX-License-Identifier: Apache-2.0
// What people call a reference: "R-1".
#pragma once

#include "base/id.hpp"

namespace guidepin::verdict {

struct ReferenceEntry;
using ReferenceId = Id<ReferenceEntry>;

} // namespace guidepin::verdict
