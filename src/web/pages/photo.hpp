// SPDX-License-Identifier: Apache-2.0
// Photos of notes, as browsers send them and as records keep them.
// Verified by: tests/web/security.test.mjs (other types, too large), tests/web/entries.test.mjs (a photo
// comes back).
#pragma once

#include "base/result.hpp"

#include <string>
#include <string_view>

namespace guidepin::web {

/// A photo as a browser hands it over: a data address whose bytes are what its type says.
struct Picture
{
    std::string type, base64;
};
/// Errors: invalid_input for another type, for bytes that are not of the type, and for more than a note
/// holds.
Result<Picture> picture_of(std::string_view data_address);
/// The bytes of a text in base64, with or without its padding. Errors: invalid_input for any other text.
Result<std::string> bytes_of(std::string_view base64);

} // namespace guidepin::web
