// SPDX-License-Identifier: Apache-2.0
// A scene as ink: pages of a PDF, or a PNG. B612 is read from its own folder, not from the machine's set-up;
// text outside its letters is shaped by Pango with whatever font the machine has for it.
// The same scenes, time and fonts give the same bytes.
//
// Verified by: tests/unit/drawing/canvas.cpp (bytes equal on a second run, text comes back through
// pdftotext).
#pragma once

#include "base/result.hpp"
#include "drawing/scene.hpp"
#include "drawing/theme.hpp"
#include "units/instant.hpp"

#include <functional>
#include <memory>
#include <string>
#include <string_view>
#include <vector>

namespace guidepin::drawing {

/// Folders in which B612 is looked for, first found wins.
std::vector<std::string> default_font_folders();

/// The four faces, loaded once. Not to be shared between threads.
class Typeface
{
  public:
    /// environment error that names the package and the folders when the font is not found.
    static Result<std::shared_ptr<Typeface>>
    load(std::vector<std::string> const& folders = default_font_folders());
    ~Typeface();
    Typeface(Typeface const&) = delete;
    Typeface& operator=(Typeface const&) = delete;
    struct Inside;
    Inside& inside() const { return *inside_; }

  private:
    Typeface();
    std::unique_ptr<Inside> inside_;
};

struct DocumentFacts
{
    std::string title;
    std::string author;
    std::string subject;
    Instant created;
};

/// Receives bytes in order; false stops with an environment error.
using ByteSink = std::function<bool(std::string_view bytes)>;

/// Where a link on a page leads: a destination by name in the same document.
struct PageLink
{
    Box box;
    std::string destination;
};
struct PageMark
{
    Point at;
    std::string destination;
};
struct OutlineEntry
{
    std::string title;
    std::string destination;
    int parent = 0; ///< number that an earlier add_outline() gave, 0: top
};

/// A PDF written page by page: only the page at hand is in memory. Sizes in points (1/72 inch).
class PdfDocument
{
  public:
    PdfDocument(std::shared_ptr<Typeface> typeface, DocumentFacts const& facts, ByteSink sink);
    ~PdfDocument();
    PdfDocument(PdfDocument const&) = delete;
    PdfDocument& operator=(PdfDocument const&) = delete;

    /// The scene's size is the page's size.
    Outcome page(Scene const& scene, std::vector<PageLink> const& links = {},
                 std::vector<PageMark> const& marks = {});
    int add_outline(OutlineEntry const& entry);
    Outcome finish();

  private:
    struct Inside;
    std::unique_ptr<Inside> inside_;
};

} // namespace guidepin::drawing
