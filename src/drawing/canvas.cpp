// SPDX-License-Identifier: Apache-2.0
#include "drawing/canvas.hpp"

#include "drawing/hatching.hpp"
#include "drawing/ink.hpp"
#include "drawing/letters.hpp"
#include "drawing/type_inside.hpp"

#include "base/text.hpp"

#include <cairo-pdf.h>
#include <cairo.h>
#include <pango/pangocairo.h>

#include <fmt/format.h>

namespace guidepin::drawing {

namespace {

class Painter
{
  public:
    Painter(cairo_t* cairo, Typeface::Inside& type, Theme theme)
        : cairo_(cairo)
        , type_(type)
        , theme_(theme)
    {
    }

    void nodes(std::vector<Node> const& list)
    {
        for (Node const& node : list) std::visit([this](auto const& shape) { draw(shape); }, node.shape);
    }

  private:
    void use(Paint paint)
    {
        Colour const colour = colour_of(paint, theme_);
        cairo_set_source_rgb(cairo_, colour.red / 255.0, colour.green / 255.0, colour.blue / 255.0);
    }
    /// Fills and strokes the current path, and forgets it.
    void ink(Paint fill, Stroke const& stroke)
    {
        if (fill.token != Token::none) {
            use(fill);
            cairo_fill_preserve(cairo_);
        }
        if (stroke.paint.token != Token::none && stroke.width > 0) {
            use(stroke.paint);
            cairo_set_line_width(cairo_, stroke.width);
            double const dash[] = {3, 2.5};
            cairo_set_dash(cairo_, dash, stroke.dashed ? 2 : 0, 0);
            cairo_stroke_preserve(cairo_);
        }
        cairo_new_path(cairo_);
    }

    void draw(Rect const& rect)
    {
        Box const& box = rect.box;
        double const r = std::min({rect.radius, box.width / 2, box.height / 2});
        if (r <= 0) {
            cairo_rectangle(cairo_, box.x, box.y, box.width, box.height);
        } else {
            constexpr double quarter = 1.57079632679489662;
            cairo_new_sub_path(cairo_);
            cairo_arc(cairo_, box.right() - r, box.y + r, r, -quarter, 0);
            cairo_arc(cairo_, box.right() - r, box.bottom() - r, r, 0, quarter);
            cairo_arc(cairo_, box.x + r, box.bottom() - r, r, quarter, 2 * quarter);
            cairo_arc(cairo_, box.x + r, box.y + r, r, 2 * quarter, 3 * quarter);
            cairo_close_path(cairo_);
        }
        ink(rect.fill, rect.stroke);
    }
    void draw(Line const& line)
    {
        cairo_move_to(cairo_, line.from.x, line.from.y);
        cairo_line_to(cairo_, line.to.x, line.to.y);
        ink({}, line.stroke);
    }
    void draw(Circle const& circle)
    {
        cairo_new_sub_path(cairo_);
        cairo_arc(cairo_, circle.centre.x, circle.centre.y, circle.radius, 0, 6.28318530717958648);
        cairo_close_path(cairo_);
        ink(circle.fill, circle.stroke);
    }
    void draw(Path const& path)
    {
        for (Path::Step const& step : path.steps) {
            if (auto const* move = std::get_if<Path::Move>(&step))
                cairo_move_to(cairo_, move->to.x, move->to.y);
            if (auto const* line = std::get_if<Path::LineTo>(&step))
                cairo_line_to(cairo_, line->to.x, line->to.y);
            if (auto const* curve = std::get_if<Path::CurveTo>(&step)) {
                cairo_curve_to(cairo_, curve->control1.x, curve->control1.y, curve->control2.x,
                               curve->control2.y, curve->to.x, curve->to.y);
            }
            if (std::holds_alternative<Path::Close>(step)) cairo_close_path(cairo_);
        }
        ink(path.fill, path.stroke);
    }
    void draw(Hatch const& hatch)
    {
        for (HatchLine const& line : hatch_lines(hatch)) {
            cairo_move_to(cairo_, line.from.x, line.from.y);
            cairo_line_to(cairo_, line.to.x, line.to.y);
        }
        ink({}, hatch.stroke);
    }
    void draw(Text const& text)
    {
        std::string const clean = clean_text(text.text);
        if (clean.empty()) return;
        cairo_save(cairo_);
        cairo_translate(cairo_, text.at.x, text.at.y);
        if (text.upright_quarter) cairo_rotate(cairo_, -1.57079632679489662);
        use(text.fill);
        type_.show(cairo_, clean, text.size, text.face, text.anchor);
        cairo_restore(cairo_);
    }
    void draw(Group const& group)
    {
        cairo_save(cairo_);
        cairo_translate(cairo_, group.shift.x, group.shift.y);
        cairo_scale(cairo_, group.scale, group.scale);
        if (group.clip) {
            cairo_rectangle(cairo_, group.clip->x, group.clip->y, group.clip->width, group.clip->height);
            cairo_clip(cairo_);
        }
        nodes(group.children);
        cairo_restore(cairo_);
    }

    cairo_t* cairo_;
    Typeface::Inside& type_;
    Theme theme_;
};

cairo_status_t take_bytes(void* closure, unsigned char const* bytes, unsigned int length)
{
    auto& sink = *static_cast<ByteSink*>(closure);
    return sink(std::string_view(reinterpret_cast<char const*>(bytes), length)) ? CAIRO_STATUS_SUCCESS
                                                                                : CAIRO_STATUS_WRITE_ERROR;
}

/// Destination names are ours, but a quote or backslash would end the attribute.
std::string quoted(std::string_view name)
{
    std::string text = "'";
    for (char const letter : name) {
        if (letter == '\'' || letter == '\\') text += '\\';
        text += letter;
    }
    return text + "'";
}

} // namespace

void paint_scene(cairo_t* cairo, Scene const& scene, Typeface::Inside& type, Theme theme)
{
    Painter(cairo, type, theme).nodes(scene.nodes);
}

struct PdfDocument::Inside
{
    std::shared_ptr<Typeface> typeface;
    ByteSink sink;
    cairo_surface_t* surface = nullptr;
    cairo_t* cairo = nullptr;
    bool refused = false; ///< the sink took no more

    /// Cairo 1.16 reads freed memory when a surface with a write error is destroyed, so it never hears of
    /// one: what the sink refuses is dropped, and status() reports it.
    static cairo_status_t take(void* closure, unsigned char const* bytes, unsigned int length)
    {
        auto& self = *static_cast<Inside*>(closure);
        if (!self.refused && take_bytes(&self.sink, bytes, length) != CAIRO_STATUS_SUCCESS)
            self.refused = true;
        return CAIRO_STATUS_SUCCESS;
    }

    Outcome status() const
    {
        cairo_status_t const found = cairo ? cairo_status(cairo) : cairo_surface_status(surface);
        if (!refused && found == CAIRO_STATUS_SUCCESS) return {};
        if (refused || found == CAIRO_STATUS_WRITE_ERROR) {
            return Error{Errc::environment,
                         "The PDF could not be written: is the disk full or the folder read-only?"};
        }
        return Error{Errc::internal,
                     fmt::format("The PDF could not be drawn: {}", cairo_status_to_string(found))};
    }
};

PdfDocument::PdfDocument(std::shared_ptr<Typeface> typeface, DocumentFacts const& facts, ByteSink sink)
    : inside_(std::make_unique<Inside>())
{
    inside_->typeface = std::move(typeface);
    inside_->sink = std::move(sink);
    inside_->surface = cairo_pdf_surface_create_for_stream(Inside::take, inside_.get(), 595, 842);
    cairo_surface_t* const surface = inside_->surface;
    cairo_pdf_surface_restrict_to_version(surface, CAIRO_PDF_VERSION_1_5);
    auto const say = [&](cairo_pdf_metadata_t what, std::string const& text) {
        if (!text.empty()) cairo_pdf_surface_set_metadata(surface, what, clean_text(text).c_str());
    };
    say(CAIRO_PDF_METADATA_TITLE, facts.title);
    say(CAIRO_PDF_METADATA_AUTHOR, facts.author);
    say(CAIRO_PDF_METADATA_SUBJECT, facts.subject);
    say(CAIRO_PDF_METADATA_CREATOR, "Guidepin");
    // Whole seconds: the library's reader of this text takes no decimals.
    Instant const whole{facts.created.ms - (facts.created.ms % 1000 + 1000) % 1000,
                        facts.created.offset_minutes};
    say(CAIRO_PDF_METADATA_CREATE_DATE, instant_text(whole));
    say(CAIRO_PDF_METADATA_MOD_DATE, instant_text(whole));
    inside_->cairo = cairo_create(surface);
}

PdfDocument::~PdfDocument()
{
    if (inside_->cairo) cairo_destroy(inside_->cairo);
    cairo_surface_destroy(inside_->surface);
}

Outcome PdfDocument::page(Scene const& scene, std::vector<PageLink> const& links,
                          std::vector<PageMark> const& marks)
{
    cairo_t* const cairo = inside_->cairo;
    cairo_pdf_surface_set_size(inside_->surface, scene.width, scene.height);
    // One section a page: without any structure the library leaves the links' part of the tree unwritten,
    // and a strict reader calls the file damaged.
    cairo_tag_begin(cairo, "Sect", nullptr);
    for (PageMark const& mark : marks) {
        std::string const attributes = fmt::format("name={} x={} y={}", quoted(mark.destination),
                                                   number_text(mark.at.x), number_text(mark.at.y));
        cairo_tag_begin(cairo, CAIRO_TAG_DEST, attributes.c_str());
        cairo_tag_end(cairo, CAIRO_TAG_DEST);
    }
    paint_scene(cairo, scene, inside_->typeface->inside(), Theme::paper);
    for (PageLink const& link : links) {
        std::string const attributes =
            fmt::format("dest={} rect=[{} {} {} {}]", quoted(link.destination), number_text(link.box.x),
                        number_text(link.box.y), number_text(link.box.width), number_text(link.box.height));
        cairo_tag_begin(cairo, CAIRO_TAG_LINK, attributes.c_str());
        cairo_tag_end(cairo, CAIRO_TAG_LINK);
    }
    cairo_tag_end(cairo, "Sect");
    cairo_show_page(cairo);
    return inside_->status();
}

int PdfDocument::add_outline(OutlineEntry const& entry)
{
    return cairo_pdf_surface_add_outline(inside_->surface, entry.parent, clean_text(entry.title).c_str(),
                                         fmt::format("dest={}", quoted(entry.destination)).c_str(),
                                         static_cast<cairo_pdf_outline_flags_t>(0));
}

Outcome PdfDocument::finish()
{
    TRY(inside_->status());
    cairo_destroy(inside_->cairo);
    inside_->cairo = nullptr;
    cairo_surface_finish(inside_->surface);
    return inside_->status();
}

} // namespace guidepin::drawing
