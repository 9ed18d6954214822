// SPDX-License-Identifier: Apache-2.0
// A scene as SVG: real text, title and description, nothing from outside, no script, no inline style in the
// embedded form (fit for a strict content security policy). The same scene gives the same bytes.
//
// Verified by: tests/unit/drawing/svg.cpp (strict XML reader, hostile text), tests/golden/drawing.
#pragma once

#include "base/safe_text.hpp"
#include "drawing/scene.hpp"

#include <string>

namespace guidepin::drawing {

/// For inside a page that includes stylesheet(). Scales with its box, keeping its shape.
Html svg(Scene const& scene);

/// A file of its own: XML declaration and the style sheet inside, light and dark.
std::string svg_file(Scene const& scene);

} // namespace guidepin::drawing
