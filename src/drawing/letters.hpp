// SPDX-License-Identifier: Apache-2.0
// UTF-8 letter by letter, and which letters a drawing may contain.
#pragma once

#include "drawing/scene.hpp"

#include <string>
#include <string_view>

namespace guidepin::drawing {

/// The letter that begins at `text[i]`, and `i` moved behind it. A byte that is no UTF-8 gives U+FFFD.
char32_t next_letter(std::string_view text, std::size_t& i);

/// `text` as valid UTF-8 without what XML 1.0 forbids: control letters become spaces, broken bytes U+FFFD.
std::string clean_text(std::string_view text);

/// Advance in ems; 1 for a letter outside the font.
double letter_width(char32_t letter, Face face);
bool in_font(char32_t letter);

} // namespace guidepin::drawing
