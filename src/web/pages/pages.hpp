// SPDX-License-Identifier: Apache-2.0
// The functions of all pages. Each page has its own file; its row in pages.inc declares and registers it. A
// page shows things and takes input; the rooms of job/ do the work.
#pragma once

#include "web/page.hpp"

namespace guidepin::web {

#define PAGE(method, path, title, function, ...) Result<Reply> function(Desk& desk, Exchange const& exchange);
#include "web/pages/pages.inc"
#undef PAGE

} // namespace guidepin::web
