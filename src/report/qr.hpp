// SPDX-License-Identifier: Apache-2.0
// The QR code of a record: "GUIDEPIN:SHA256:" and the hash in capitals, which fits the code's
// letters-and-digits mode. Verified by: tests/unit/report/qr.cpp (finder patterns of ISO/IEC 18004, size,
// quiet zone), tests/cli/package.py (read back by another program).
#pragma once

#include "base/result.hpp"
#include "drawing/scene.hpp"

#include <string>
#include <string_view>

namespace guidepin::report {

std::string qr_text(std::string_view record_hash);

/// The code as lines of text for a terminal, two modules in each character, dark on light whatever the
/// terminal's colours are. Error correction level L: the smaller one fits a window of 80 x 24 more often, and
/// a screen has no dirt. internal when the text is too long.
Result<std::string> qr_half_blocks(std::string_view text);

/// Error correction level M, quiet zone of four modules, `size` with it. internal when the text is too long.
Result<drawing::Scene> qr_drawing(std::string_view text, double size);

} // namespace guidepin::report
