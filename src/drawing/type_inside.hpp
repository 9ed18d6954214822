// SPDX-License-Identifier: Apache-2.0
// Inside this room only: the loaded faces. Common text is set glyph by glyph at the widths of
// font_metrics.hpp, so that what was laid out is what is drawn; other scripts are shaped by Pango.
#pragma once

#include "drawing/canvas.hpp"

#include <array>
#include <string>
#include <unordered_map>

#include <cairo.h>
#include <fontconfig/fontconfig.h>
#include <pango/pangocairo.h>

namespace guidepin::drawing {

struct Typeface::Inside
{
    struct Loaded
    {
        PangoFont* font = nullptr;
        cairo_font_face_t* face = nullptr;
        std::unordered_map<char32_t, unsigned long> glyphs;
    };

    Inside() = default;
    ~Inside();
    Inside(Inside const&) = delete;
    Inside& operator=(Inside const&) = delete;

    /// Draws at the origin of `cairo` in its current source.
    void show(cairo_t* cairo, std::string const& text, double size, Face face, Anchor anchor);

    FcConfig* config = nullptr;
    PangoFontMap* map = nullptr;
    PangoContext* context = nullptr;
    std::array<Loaded, 4> faces; ///< by Face

  private:
    void show_glyphs(cairo_t* cairo, std::string const& text, double size, Face face, Anchor anchor);
    void show_shaped(cairo_t* cairo, std::string const& text, double size, Face face, Anchor anchor);
    unsigned long glyph(Loaded& loaded, char32_t letter);
};

} // namespace guidepin::drawing
