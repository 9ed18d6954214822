// SPDX-License-Identifier: Apache-2.0
// Files that are their owner's alone: the key of a certificate, the one-time address.
// Verified by: tests/unit/web/private_file.cpp.
#pragma once

#include "base/result.hpp"

#include <string>
#include <string_view>

namespace guidepin::web {

/// Made with its parents; new ones are their owner's alone (0700).
Outcome make_private_folder(std::string const& path);

/// Written beside under a name nobody can guess (0600), flushed to the disk, and moved into place: a reader
/// sees the old file or the new one. A symbolic link at `path` is replaced, never followed.
Outcome write_private_file(std::string const& path, std::string_view bytes);

/// Errors: not_found; refused when it is a symbolic link or no plain file, belongs to another user, or others
/// may read or write it; environment.
Result<std::string> read_private_file(std::string const& path);

} // namespace guidepin::web
