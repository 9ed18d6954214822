// SPDX-License-Identifier: Apache-2.0
// Style, scripts and the mark, out of the program itself. Their addresses carry the build, so that a browser
// may keep them.
#pragma once

#include "web/page.hpp"

namespace guidepin::web {

/// Changes whenever an asset does.
std::string const& build_id();
/// "/assets/BUILD/guidepin.css"
std::string asset_path(std::string_view name);
std::optional<Reply> asset_reply(std::string_view path);

} // namespace guidepin::web
