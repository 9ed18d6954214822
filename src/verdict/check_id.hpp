// SPDX-License-Identifier: Apache-2.0
// What people call a cord check: "C-1". The check of a reference has an id of its own.
#pragma once

#include "base/id.hpp"

namespace guidepin::verdict {

struct CordCheckEntry;
using CheckId = Id<CordCheckEntry>;

} // namespace guidepin::verdict
