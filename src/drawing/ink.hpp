// SPDX-License-Identifier: Apache-2.0
// Inside this room only: painting a scene on any Cairo surface.
#pragma once

#include "drawing/canvas.hpp"

typedef struct _cairo cairo_t; // NOLINT(readability-identifier-naming): the name that the library gave it

namespace guidepin::drawing {

void paint_scene(cairo_t* cairo, Scene const& scene, Typeface::Inside& type, Theme theme);

} // namespace guidepin::drawing
