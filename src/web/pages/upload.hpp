// SPDX-License-Identifier: Apache-2.0
// The file that a form brings. Verified by: tests/unit/web/session.cpp, tests/web/security.test.mjs.
#pragma once

#include "web/page.hpp"

#include <string>
#include <string_view>

namespace guidepin::web {

/// The file of a form. Errors: invalid_input if there is none, or if it is not text.
Result<Upload const*> uploaded(Exchange const& exchange);
/// The last part of a name that a browser sent, without control characters, never longer than 120 bytes.
std::string shown_name(std::string_view name);

} // namespace guidepin::web
