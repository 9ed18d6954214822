// SPDX-License-Identifier: Apache-2.0
#include "report/flow.hpp"

#include "drawing/font_metrics.hpp"
#include "drawing/shapes.hpp"

#include <algorithm>

#include <fmt/format.h>

namespace guidepin::report {

using drawing::Anchor;
using drawing::Box;
using drawing::Face;
using drawing::filled;
using drawing::label;
using drawing::Line;
using drawing::stroke;
using drawing::text_width;
using drawing::Token;
using drawing::wrapped;

Flow::Flow(PaperSize paper, Furniture furniture, Bearings const& known, Take take)
    : paper_(paper)
    , furniture_(std::move(furniture))
    , known_(known)
    , take_(std::move(take))
    , width_(paper.width - 2 * left_)
    , bottom_(paper.height - 52)
{
}

int Flow::known_page(std::string const& destination) const
{
    auto const found = known_.page_of.find(destination);
    return found == known_.page_of.end() ? 0 : found->second;
}

void Flow::open_page()
{
    ++page_number_;
    open_ = true;
    page_ = {};
    links_.clear();
    marks_.clear();
    page_.width = paper_.width;
    page_.height = paper_.height;
    y_ = top_;
}

void Flow::close_page()
{
    if (!open_) return;
    open_ = false;
    constexpr double size = 7.4;
    double const right = left_ + width_;
    page_.place(drawing::mark_drawing(38), {left_, 27});
    double const room = width_ - 46 - text_width(furniture_.right, size) - 16;
    page_.add(label({left_ + 46, 35}, drawing::fitted(furniture_.left, room, size, Face::bold), size,
                    Token::ink, Anchor::start, Face::bold));
    page_.add(label({right, 35}, furniture_.right, size, Token::quiet, Anchor::end));
    page_.add(Line{{left_, 44}, {right, 44}, stroke(Token::faint, 0.7)});
    double const foot = paper_.height - 30;
    page_.add(Line{{left_, foot - 12}, {right, foot - 12}, stroke(Token::faint, 0.7)});
    page_.add(label({left_, foot}, drawing::fitted(furniture_.foot, width_ - 60, size), size, Token::quiet));
    page_.add(label({right, foot},
                    fmt::format("{} of {}", page_number_, std::max(known_.pages, page_number_)), size,
                    Token::ink, Anchor::end, Face::bold));
    if (outcome_) outcome_ = take_(page_, links_, marks_);
}

void Flow::new_page()
{
    close_page();
    open_page();
}

void Flow::need(double height)
{
    if (!open_) open_page();
    // What is taller than a page starts where it is.
    if (y_ + height > bottom_ && y_ > top_ && height <= bottom_ - top_) new_page();
}

void Flow::space(double height)
{
    if (!open_) open_page();
    if (y_ > top_) y_ += height;
}

void Flow::mark(std::string const& destination)
{
    if (!open_) open_page();
    found_.page_of[destination] = page_number_;
    marks_.push_back({{left_, std::max(y_ - 14, 0.0)}, destination});
}

void Flow::link(Box const& box, std::string const& destination)
{
    links_.push_back({box, destination});
}

void Flow::title(std::string const& text, std::string const& destination)
{
    auto const lines = wrapped(text, width_, 18, Face::bold);
    need(static_cast<double>(lines.size()) * 22 + 40);
    if (!destination.empty()) mark(destination);
    for (std::string const& line : lines) {
        page_.add(label({left_, y_ + 16}, line, 18, Token::ink, Anchor::start, Face::bold));
        y_ += 22;
    }
    y_ += 4;
}

void Flow::heading(std::string const& text, std::string const& destination, double with)
{
    need(30 + with);
    if (y_ > top_) y_ += 10;
    if (!destination.empty()) mark(destination);
    page_.add(filled({left_, y_, 26, 2.4}, Token::accent));
    page_.add(Line{{left_ + 26, y_ + 1.2}, {left_ + width_, y_ + 1.2}, stroke(Token::faint, 0.7)});
    y_ += 14.5;
    page_.add(label({left_, y_}, drawing::fitted(text, width_, 10.5, Face::bold), 10.5, Token::ink,
                    Anchor::start, Face::bold));
    y_ += 6.5;
}

void Flow::subheading(std::string const& text, double with)
{
    need(16 + with);
    if (y_ > top_) y_ += 6;
    y_ += 9;
    page_.add(label({left_, y_}, drawing::fitted(text, width_, 9, Face::bold), 9, Token::ink, Anchor::start,
                    Face::bold));
    y_ += 5;
}

void Flow::paragraph(std::string const& text, double size, Token token, Face face)
{
    for (std::string const& line : wrapped(text, width_, size, face)) {
        need(size * 1.42);
        y_ += size * 1.42;
        page_.add(label({left_, y_ - size * 0.3}, line, size, token, Anchor::start, face));
    }
    y_ += 3;
}

void Flow::bullets(std::vector<std::string> const& items, double size)
{
    for (std::string const& item : items) {
        auto const lines = wrapped(item, width_ - 12, size);
        for (std::size_t i = 0; i < lines.size(); ++i) {
            need(size * 1.42);
            y_ += size * 1.42;
            if (i == 0) page_.add(filled({left_, y_ - size * 0.82, 4, 4}, Token::accent));
            page_.add(label({left_ + 12, y_ - size * 0.3}, lines[i], size));
        }
        y_ += 2;
    }
}

void Flow::said(std::vector<Said> const& entries, int columns, std::optional<double> width)
{
    if (entries.empty()) return;
    if (!open_) open_page();
    constexpr double size = 8;
    constexpr double step = 11.2;
    constexpr double gutter = 18;
    double const all = width.value_or(width_);
    double const column = (all - gutter * (columns - 1)) / columns;
    double widest = 0;
    for (Said const& entry : entries) widest = std::max(widest, text_width(entry.label, size));
    double const label_width = std::min(widest + 10, column * 0.42);
    struct Set
    {
        Said const* entry;
        std::vector<std::string> labels, lines;
        double height() const
        {
            return static_cast<double>(std::max(lines.size(), labels.size())) * step + 1.6;
        }
    };
    std::vector<Set> sets;
    double total = 0;
    for (Said const& entry : entries) {
        Set set{&entry, wrapped(entry.label, label_width - 6, size),
                wrapped(entry.text, column - label_width, size, entry.mono ? Face::mono : Face::regular)};
        total += set.height();
        sets.push_back(std::move(set));
    }
    // Fill the columns to about the same height, in reading order.
    double const wanted = total / columns;
    std::size_t next = 0;
    double lowest = y_;
    bool const fits = columns > 1 && y_ + wanted + 40 <= bottom_;
    if (columns > 1 && !fits && wanted + 40 <= bottom_ - top_) {
        new_page();
        lowest = y_;
    }
    double const start = y_;
    for (int c = 0; c < columns; ++c) {
        double const x = left_ + c * (column + gutter);
        double y = start;
        double used = 0;
        while (next < sets.size() && (c == columns - 1 || used < wanted - 1)) {
            Set const& set = sets[next];
            if (columns == 1) {
                need(std::min(set.height(), bottom_ - top_));
                y = y_;
            }
            for (std::size_t i = 0; i < set.labels.size(); ++i) {
                page_.add(
                    label({x, y + 8.6 + static_cast<double>(i) * step}, set.labels[i], size, Token::quiet));
            }
            for (std::size_t i = 0; i < set.lines.size(); ++i) {
                page_.add(label({x + label_width, y + 8.6 + static_cast<double>(i) * step}, set.lines[i],
                                size, Token::ink, Anchor::start,
                                set.entry->mono ? Face::mono : Face::regular));
            }
            y += set.height();
            if (columns == 1) y_ = y;
            used += set.height();
            ++next;
        }
        lowest = std::max(lowest, y);
    }
    y_ = std::max(y_, lowest) + 3;
}

void Flow::figure(drawing::Scene const& scene, double largest, std::string const& caption)
{
    if (scene.width <= 0 || scene.height <= 0) return;
    double scale = std::min(largest, width_ / scene.width);
    scale = std::min(scale, (bottom_ - top_ - 20) / scene.height);
    double const height = scene.height * scale + (caption.empty() ? 0 : 13);
    need(height + 6);
    page_.place(scene, {left_, y_ + 3}, scale);
    y_ += scene.height * scale + 6;
    if (!caption.empty()) {
        page_.add(label({left_, y_ + 7}, drawing::fitted(caption, width_, 7.4), 7.4, Token::quiet));
        y_ += 12;
    }
}

void Flow::table_head(FlowTable const& table, std::vector<double> const& widths)
{
    double x = left_;
    if (!table.over.empty()) {
        std::size_t c = 0;
        double const baseline = y_ + table.size + 3;
        for (TableSpan const& span : table.over) {
            double const from = x;
            for (std::size_t i = 0; i < span.columns && c < widths.size(); ++i) x += widths[c++];
            if (span.text.empty()) continue;
            page_.add(label({from, baseline},
                            drawing::fitted(span.text, x - from - 5, table.size, Face::bold), table.size,
                            Token::ink, Anchor::start, Face::bold));
            page_.add(Line{{from, baseline + 4}, {x - 5, baseline + 4}, stroke(Token::faint, 0.7)});
        }
        y_ += table.size + 8;
        x = left_;
    }
    std::size_t most = 1;
    std::vector<std::vector<std::string>> titles;
    for (std::size_t c = 0; c < table.columns.size(); ++c) {
        titles.push_back(wrapped(table.columns[c].title, widths[c] - 5, table.size));
        most = std::max(most, titles.back().size());
    }
    double const step = table.size * 1.25;
    double const height = static_cast<double>(most) * step + 5;
    for (std::size_t c = 0; c < table.columns.size(); ++c) {
        TableColumn const& column = table.columns[c];
        double const at = column.anchor == Anchor::end      ? x + widths[c] - 5
                          : column.anchor == Anchor::middle ? x + widths[c] / 2
                                                            : x;
        double const first = y_ + height - 4 - static_cast<double>(titles[c].size() - 1) * step;
        for (std::size_t i = 0; i < titles[c].size(); ++i) {
            page_.add(label({at, first + static_cast<double>(i) * step}, titles[c][i], table.size,
                            Token::quiet, column.anchor));
        }
        x += widths[c];
    }
    y_ += height;
    page_.add(Line{{left_, y_}, {left_ + width_, y_}, stroke(Token::ink, 0.8)});
}

void Flow::table(FlowTable const& table)
{
    if (!open_) open_page();
    double weights = 0;
    for (TableColumn const& column : table.columns) weights += column.weight;
    std::vector<double> widths;
    for (TableColumn const& column : table.columns) widths.push_back(width_ * column.weight / weights);
    double const step = table.size * 1.3;
    need(table.least_height * 2 + 24);
    table_head(table, widths);
    for (std::size_t r = 0; r < table.rows.size(); ++r) {
        auto const& row = table.rows[r];
        bool const last_total = table.total && r + 1 == table.rows.size();
        std::vector<std::vector<std::string>> texts;
        double height = table.least_height;
        for (std::size_t c = 0; c < row.size(); ++c) {
            TableCell const& cell = row[c];
            double const before = cell.sign ? table.size + 5 : cell.fibre > 0 ? 13 : 0;
            texts.push_back(cell.text.empty() ? std::vector<std::string>{}
                                              : wrapped(cell.text, std::max(widths[c] - 5 - before, 10.0),
                                                        table.size, last_total ? Face::bold : cell.face));
            height =
                std::max(height, static_cast<double>(texts.back().size()) * step + table.least_height - step);
            if (cell.picture && cell.picture->width > 0) {
                double const scale = std::min(1.0, (widths[c] - 5) / cell.picture->width);
                height = std::max(height, cell.picture->height * scale + 4);
            }
        }
        if (y_ + height > bottom_ && y_ > top_) {
            new_page();
            table_head(table, widths);
        }
        if (last_total) page_.add(Line{{left_, y_}, {left_ + width_, y_}, stroke(Token::ink, 0.8)});
        double x = left_;
        double const baseline = y_ + (table.least_height + drawing::cap_height(table.size)) / 2 - 0.2;
        for (std::size_t c = 0; c < row.size(); ++c) {
            TableCell const& cell = row[c];
            Anchor const anchor = table.columns[c].anchor;
            double text_x = anchor == Anchor::end      ? x + widths[c] - 5
                            : anchor == Anchor::middle ? x + widths[c] / 2
                                                       : x;
            if (cell.sign) {
                double const size = table.size + 1.6;
                page_.place(drawing::sign_drawing(*cell.sign, size), {text_x, baseline - size + 1.4});
                text_x += size + 3.4;
            } else if (cell.fibre > 0) {
                page_.add(drawing::Rect{{text_x, baseline - 5.2, 9, 5.2},
                                        1,
                                        drawing::fibre_paint(cell.fibre),
                                        stroke(Token::ink, 0.5)});
                text_x += 13;
            }
            if (cell.picture && cell.picture->width > 0) {
                double const scale = std::min(1.0, (widths[c] - 5) / cell.picture->width);
                page_.place(*cell.picture, {x, y_ + (height - cell.picture->height * scale) / 2}, scale);
            }
            for (std::size_t i = 0; i < texts[c].size(); ++i) {
                page_.add(label({text_x, baseline + static_cast<double>(i) * step}, texts[c][i], table.size,
                                cell.token, anchor, last_total ? Face::bold : cell.face));
            }
            if (!cell.destination.empty()) link({x, y_, widths[c], height}, cell.destination);
            x += widths[c];
        }
        y_ += height;
        page_.add(Line{{left_, y_}, {left_ + width_, y_}, stroke(Token::faint, 0.5)});
    }
    y_ += 4;
}

void Flow::contents_line(std::string const& text, std::string const& destination,
                         std::optional<drawing::Standing> standing, int level)
{
    constexpr double size = 8.6;
    constexpr double height = 13.5;
    need(height);
    double x = left_ + level * 14;
    double const baseline = y_ + 9.6;
    std::string const number = fmt::format("{}", known_page(destination));
    if (standing) {
        page_.place(drawing::sign_drawing(*standing, 9), {x, baseline - 8.2});
        x += 14;
    }
    double const end = left_ + width_;
    std::string const word = standing ? drawing::word_of(*standing) : "";
    double const word_at = end - 40;
    double const text_end = standing ? word_at - text_width(word, size) - 10 : end - 34;
    std::string const shown =
        drawing::fitted(text, text_end - x, size, level == 0 ? Face::bold : Face::regular);
    page_.add(label({x, baseline}, shown, size, Token::ink, Anchor::start,
                    level == 0 ? Face::bold : Face::regular));
    double const from = x + text_width(shown, size, level == 0 ? Face::bold : Face::regular) + 6;
    if (standing) page_.add(label({word_at, baseline}, word, size, Token::ink, Anchor::end));
    double const to = standing ? word_at - text_width(word, size) - 6 : end - text_width(number, size) - 6;
    if (to > from) page_.add(Line{{from, baseline - 2}, {to, baseline - 2}, stroke(Token::faint, 0.8, true)});
    page_.add(label({end, baseline}, number, size, Token::ink, Anchor::end));
    link({left_, y_, width_, height}, destination);
    y_ += height;
}

Outcome Flow::finish()
{
    close_page();
    found_.pages = page_number_;
    return outcome_;
}

std::string foot_text(Setting const& setting)
{
    std::string text = setting.program;
    if (!setting.facts_version.empty()) text += ", facts " + setting.facts_version;
    return text + ", made " + setting.locale.date_time(setting.made);
}

Result<Written> two_walks(Setting const& setting, drawing::DocumentFacts const& facts,
                          Furniture const& furniture, drawing::ByteSink const& sink,
                          std::function<Outcome(Flow&)> const& write,
                          std::function<void(drawing::PdfDocument&, Bearings const&)> const& outline)
{
    if (!setting.typeface) return Error{Errc::internal, "A document was asked for without a typeface."};
    PaperSize const paper = size_of(setting.paper);
    Bearings const nothing;
    Flow count(paper, furniture, nothing, [](auto const&, auto const&, auto const&) { return Outcome{}; });
    TRY(write(count));
    TRY(count.finish());
    Bearings const bearings = count.found();

    Written written;
    drawing::PdfDocument document(setting.typeface, facts, [&](std::string_view bytes) {
        written.bytes += bytes.size();
        return sink(bytes);
    });
    if (outline) outline(document, bearings);
    Flow print(paper, furniture, bearings,
               [&](drawing::Scene const& scene, auto const& links, auto const& marks) {
                   return document.page(scene, links, marks);
               });
    TRY(write(print));
    TRY(print.finish());
    TRY(document.finish());
    if (print.found().pages != bearings.pages) {
        return Error{Errc::internal, fmt::format("A document came out with {} pages after {} were counted.",
                                                 print.found().pages, bearings.pages)};
    }
    written.pages = bearings.pages;
    return written;
}

} // namespace guidepin::report
