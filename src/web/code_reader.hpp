// SPDX-License-Identifier: Apache-2.0
// Reads a QR code in a grey picture. The picture comes from a device, so nothing about it is trusted.
// Verified by: tests/unit/web/code_reader.cpp (codes of an independent encoder, turned, small, noisy; sizes
// that do not hold; noise), tests/web (camera and photo).
#pragma once

#include "base/result.hpp"

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

namespace guidepin::web {

constexpr std::int64_t widest_picture = 2000; ///< pixels, in either direction

/// One byte a pixel, row by row. Nothing where no code can be read; of several, the first that is found.
/// Errors: invalid_input when width and height are not those of the bytes or too large.
Result<std::optional<std::string>> read_code(std::int64_t width, std::int64_t height, std::string_view grey);

} // namespace guidepin::web
