// SPDX-License-Identifier: Apache-2.0
#include "drawing/font_metrics.hpp"
#include "drawing/letters.hpp"
#include "drawing/type_inside.hpp"

#include "base/text.hpp"

#include <filesystem>
#include <vector>

#include <pango/pangofc-font.h>
#include <pango/pangofc-fontmap.h>

#include <fmt/format.h>

namespace guidepin::drawing {

std::vector<std::string> default_font_folders()
{
    return {"/usr/share/fonts/opentype/b612", "/usr/share/fonts/truetype/b612",
            "/usr/local/share/fonts/b612"};
}

namespace {

PangoFontDescription* description_of(Face face, double size)
{
    PangoFontDescription* const description = pango_font_description_new();
    pango_font_description_set_family(description, face == Face::mono ? "B612 Mono" : "B612");
    if (face == Face::bold) pango_font_description_set_weight(description, PANGO_WEIGHT_BOLD);
    if (face == Face::italic) pango_font_description_set_style(description, PANGO_STYLE_ITALIC);
    pango_font_description_set_absolute_size(description, size * PANGO_SCALE);
    return description;
}

} // namespace

Typeface::Typeface()
    : inside_(std::make_unique<Inside>())
{
}
Typeface::~Typeface() = default;

Result<std::shared_ptr<Typeface>> Typeface::load(std::vector<std::string> const& folders)
{
    std::string found;
    for (std::string const& folder : folders) {
        std::error_code error;
        if (found.empty() && std::filesystem::is_directory(folder, error)) found = folder;
    }
    Error const missing{
        Errc::environment,
        fmt::format("The font B612 is not found in {}. Install the Debian package fonts-b612, or "
                    "name the folder that holds it.",
                    joined(folders, ", "))};
    if (found.empty()) return missing;
    std::shared_ptr<Typeface> typeface(new Typeface());
    Inside& inside = *typeface->inside_;
    inside.config = FcConfigCreate();
    // A place for its cache, so that it neither complains nor reads the fonts again each time. No output
    // depends on it.
    static constexpr char settings[] =
        "<?xml version=\"1.0\"?><fontconfig><cachedir prefix=\"xdg\">fontconfig</cachedir></fontconfig>";
    FcConfigParseAndLoadFromMemory(inside.config, reinterpret_cast<FcChar8 const*>(settings), FcFalse);
    FcConfigAppFontAddDir(inside.config, reinterpret_cast<FcChar8 const*>(found.c_str()));
    FcFontSet const* const fonts = FcConfigGetFonts(inside.config, FcSetApplication);
    if (!fonts || fonts->nfont == 0) return missing;
    inside.map = pango_cairo_font_map_new_for_font_type(CAIRO_FONT_TYPE_FT);
    pango_fc_font_map_set_config(PANGO_FC_FONT_MAP(inside.map), inside.config);
    inside.context = pango_font_map_create_context(inside.map);
    cairo_font_options_t* const options = cairo_font_options_create();
    cairo_font_options_set_hint_style(options, CAIRO_HINT_STYLE_NONE);
    cairo_font_options_set_hint_metrics(options, CAIRO_HINT_METRICS_OFF);
    pango_cairo_context_set_font_options(inside.context, options);
    cairo_font_options_destroy(options);
    for (std::size_t i = 0; i < inside.faces.size(); ++i) {
        PangoFontDescription* const description = description_of(static_cast<Face>(i), 1000);
        PangoFont* const font = pango_font_map_load_font(inside.map, inside.context, description);
        pango_font_description_free(description);
        if (!font) return missing;
        PangoFontDescription* const got = pango_font_describe(font);
        char const* const family = pango_font_description_get_family(got);
        bool const right = family && std::string_view(family).starts_with("B612");
        pango_font_description_free(got);
        inside.faces[i].font = font;
        if (!right) return missing;
        inside.faces[i].face =
            cairo_scaled_font_get_font_face(pango_cairo_font_get_scaled_font(PANGO_CAIRO_FONT(font)));
        cairo_font_face_reference(inside.faces[i].face);
    }
    return typeface;
}

Typeface::Inside::~Inside()
{
    for (Loaded& loaded : faces) {
        if (loaded.face) cairo_font_face_destroy(loaded.face);
        if (loaded.font) g_object_unref(loaded.font);
    }
    if (context) g_object_unref(context);
    if (map) g_object_unref(map);
    if (config) FcConfigDestroy(config);
}

unsigned long Typeface::Inside::glyph(Loaded& loaded, char32_t letter)
{
    auto const found = loaded.glyphs.find(letter);
    if (found != loaded.glyphs.end()) return found->second;
    unsigned long const index = pango_fc_font_get_glyph(PANGO_FC_FONT(loaded.font), letter);
    loaded.glyphs.emplace(letter, index);
    return index;
}

void Typeface::Inside::show(cairo_t* cairo, std::string const& text, double size, Face face, Anchor anchor)
{
    bool ours = true;
    for (std::size_t i = 0; i < text.size() && ours;) ours = in_font(next_letter(text, i));
    if (ours) {
        show_glyphs(cairo, text, size, face, anchor);
    } else {
        show_shaped(cairo, text, size, face, anchor);
    }
}

void Typeface::Inside::show_glyphs(cairo_t* cairo, std::string const& text, double size, Face face,
                                   Anchor anchor)
{
    Loaded& loaded = faces[static_cast<std::size_t>(face)];
    double const width = text_width(text, size, face);
    double x = anchor == Anchor::start ? 0 : anchor == Anchor::middle ? -width / 2 : -width;
    std::vector<cairo_glyph_t> glyphs;
    std::vector<cairo_text_cluster_t> clusters;
    for (std::size_t i = 0; i < text.size();) {
        std::size_t const start = i;
        char32_t const letter = next_letter(text, i);
        glyphs.push_back(cairo_glyph_t{glyph(loaded, letter), x, 0});
        clusters.push_back(cairo_text_cluster_t{static_cast<int>(i - start), 1});
        x += letter_width(letter, face) * size;
    }
    cairo_set_font_face(cairo, loaded.face);
    cairo_set_font_size(cairo, size);
    cairo_show_text_glyphs(cairo, text.c_str(), static_cast<int>(text.size()), glyphs.data(),
                           static_cast<int>(glyphs.size()), clusters.data(),
                           static_cast<int>(clusters.size()), static_cast<cairo_text_cluster_flags_t>(0));
}

void Typeface::Inside::show_shaped(cairo_t* cairo, std::string const& text, double size, Face face,
                                   Anchor anchor)
{
    // The machine's own fonts: B612 has no letters for this text.
    PangoFontMap* const other = pango_cairo_font_map_new_for_font_type(CAIRO_FONT_TYPE_FT);
    PangoContext* const with = pango_font_map_create_context(other);
    pango_cairo_context_set_resolution(with, 72);
    PangoLayout* const layout = pango_layout_new(with);
    PangoFontDescription* const description = description_of(face, size);
    pango_layout_set_font_description(layout, description);
    pango_layout_set_single_paragraph_mode(layout, TRUE);
    pango_layout_set_text(layout, text.c_str(), static_cast<int>(text.size()));
    PangoRectangle logical;
    pango_layout_get_extents(layout, nullptr, &logical);
    double const actual = static_cast<double>(logical.width) / PANGO_SCALE;
    double const room = text_width(text, size, face);
    // What was laid out must hold: text that comes out wider is set narrower.
    double const compress = actual > room && actual > 0 ? room / actual : 1;
    double const width = actual * compress;
    cairo_save(cairo);
    cairo_translate(cairo, anchor == Anchor::start ? 0 : anchor == Anchor::middle ? -width / 2 : -width, 0);
    cairo_scale(cairo, compress, 1);
    cairo_move_to(cairo, 0, -static_cast<double>(pango_layout_get_baseline(layout)) / PANGO_SCALE);
    pango_cairo_show_layout(cairo, layout);
    cairo_restore(cairo);
    cairo_new_path(cairo);
    pango_font_description_free(description);
    g_object_unref(layout);
    g_object_unref(with);
    g_object_unref(other);
}

} // namespace guidepin::drawing
