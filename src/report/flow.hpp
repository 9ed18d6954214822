// SPDX-License-Identifier: Apache-2.0
// Sets text, tables and drawings one below the other, and turns the page when it is full. Layout needs only
// font_metrics.hpp, so a first walk counts pages and finds where everything is at little cost, and the
// second writes them: contents and "3 of 12" come out right with one page in memory.
#pragma once

#include "drawing/canvas.hpp"
#include "drawing/row.hpp"
#include "report/certificate.hpp"
#include "report/common.hpp"

#include <functional>
#include <map>
#include <optional>
#include <string>
#include <vector>

namespace guidepin::report {

struct TableCell
{
    std::string text;
    drawing::Token token = drawing::Token::ink;
    drawing::Face face = drawing::Face::regular;
    std::optional<drawing::Standing> sign = {}; ///< comes before the text
    int fibre = 0;                              ///< a swatch of that fibre's colour before the text
    std::optional<drawing::Scene> picture = {}; ///< instead of text, scaled to the cell
    std::string destination = {};               ///< the text leads there
};

struct TableColumn
{
    std::string title;
    double weight = 1; ///< share of the width
    drawing::Anchor anchor = drawing::Anchor::start;
};

/// A head above the heads of `columns` neighbours.
struct TableSpan
{
    std::size_t columns = 1;
    std::string text;
};

struct FlowTable
{
    std::vector<TableColumn> columns;
    std::vector<TableSpan> over; ///< from the left; empty: no line of heads above the heads
    std::vector<std::vector<TableCell>> rows;
    double size = 7.6;
    double least_height = 12;
    bool total = false; ///< the last row is a sum: a rule above, in bold
};

/// Where each destination is and how many pages there are: what the first walk finds.
struct Bearings
{
    std::map<std::string, int> page_of;
    int pages = 0;
};

/// What is on each page beside the text.
struct Furniture
{
    std::string left;  ///< job
    std::string right; ///< kind of document
    std::string foot;  ///< program, tables, when
};

class Flow
{
  public:
    using Take = std::function<Outcome(drawing::Scene const&, std::vector<drawing::PageLink> const&,
                                       std::vector<drawing::PageMark> const&)>;

    Flow(PaperSize paper, Furniture furniture, Bearings const& known, Take take);

    double width() const { return width_; }
    double left() const { return left_; }
    double y() const { return y_; }
    double room() const { return bottom_ - y_; }
    int page() const { return page_number_; }
    Bearings const& found() const { return found_; }
    int known_page(std::string const& destination) const;

    void new_page();
    /// Turns the page unless `height` is left on it.
    void need(double height);
    void space(double height);
    void set_right(std::string text) { furniture_.right = std::move(text); }

    void title(std::string const& text, std::string const& destination = {});
    /// Keeps at least `with` of what follows on the same page.
    void heading(std::string const& text, std::string const& destination = {}, double with = 60);
    void subheading(std::string const& text, double with = 40);
    void paragraph(std::string const& text, double size = 8.6, drawing::Token token = drawing::Token::ink,
                   drawing::Face face = drawing::Face::regular);
    void bullets(std::vector<std::string> const& items, double size = 8.6);
    /// Label and text in `columns` columns, read down.
    void said(std::vector<Said> const& entries, int columns = 2, std::optional<double> width = {});
    /// At most `width` wide, at the left; never larger than `largest` times its own size.
    void figure(drawing::Scene const& scene, double largest = 1, std::string const& caption = {});
    void table(FlowTable const& table);
    /// A line of contents: dotted to its page number, a link.
    void contents_line(std::string const& text, std::string const& destination,
                       std::optional<drawing::Standing> standing, int level);

    /// Free placing on the page at hand, for title bands and the like.
    drawing::Scene& canvas() { return page_; }
    void move_to(double y) { y_ = y; }
    void mark(std::string const& destination);
    void link(drawing::Box const& box, std::string const& destination);

    Outcome finish();

  private:
    void open_page();
    void close_page();
    void table_head(FlowTable const& table, std::vector<double> const& widths);

    PaperSize paper_;
    Furniture furniture_;
    Bearings const& known_;
    Take take_;
    Bearings found_;
    drawing::Scene page_;
    std::vector<drawing::PageLink> links_;
    std::vector<drawing::PageMark> marks_;
    Outcome outcome_;
    double left_ = 48;
    double top_ = 62;
    double width_ = 0;
    double bottom_ = 0;
    double y_ = 0;
    int page_number_ = 0;
    bool open_ = false;
};

/// Walks `write` twice: once to find the bearings, once into a PDF. `outline` runs before the second walk.
Result<Written> two_walks(Setting const& setting, drawing::DocumentFacts const& facts,
                          Furniture const& furniture, drawing::ByteSink const& sink,
                          std::function<Outcome(Flow&)> const& write,
                          std::function<void(drawing::PdfDocument&, Bearings const&)> const& outline = {});

/// Foot of every page of a setting.
std::string foot_text(Setting const& setting);

} // namespace guidepin::report
