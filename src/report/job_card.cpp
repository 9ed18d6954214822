// SPDX-License-Identifier: Apache-2.0
#include "report/job_card.hpp"

#include "drawing/font_metrics.hpp"
#include "drawing/shapes.hpp"
#include "report/qr.hpp"

#include <algorithm>

#include <fmt/format.h>

namespace guidepin::report {

using drawing::Anchor;
using drawing::Box;
using drawing::Face;
using drawing::filled;
using drawing::label;
using drawing::Line;
using drawing::Scene;
using drawing::stroke;
using drawing::text_width;
using drawing::Token;
using drawing::wrapped;

std::vector<std::string> standard_cautions()
{
    return {"Light from fibre cannot be seen and can harm the eye. Never look into an end, or through a "
            "scope at a live one.",
            "Switch the source off before you inspect. Treat every fibre as live until it is metered.",
            "Work only on fibres that are released for test.",
            "Never mate pinned to pinned.",
            "Glass ends and loose pins injure and damage. Count the pins; keep unused ends capped.",
            "Follow the instrument maker's instructions, IEC 60825-2, the site's rules and local codes.",
            "Acceptance is the decision of the qualified person who signs."};
}

namespace {

constexpr double margin = 34;
constexpr double comfortable_scale = 0.75;
constexpr double floor_scale = 0.62; ///< 11 pt steps do not become smaller than 6.8 pt

/// A card is laid out at one scale of type; when it does not fit on two sides the next smaller is tried.
class CardPages
{
  public:
    CardPages(JobCard const& card, Setting const& setting, double scale, bool large_drawings)
        : card_(card)
        , setting_(setting)
        , scale_(scale)
        , large_drawings_(large_drawings)
        , paper_(size_of(setting.paper))
        , width_(paper_.width - 2 * margin)
    {
    }

    Result<std::vector<Scene>> lay_out()
    {
        open_page();
        TRY(head());
        cautions(); // before the first step: whoever hangs the card up reads from the top
        for (std::size_t i = 0; i < card_.phases.size(); ++i) phase(card_.phases[i], static_cast<int>(i) + 1);
        signatures();
        return std::move(pages_);
    }

  private:
    double size(double points) const { return points * scale_; }
    Scene& page() { return pages_.back(); }

    void open_page()
    {
        pages_.emplace_back();
        page().width = paper_.width;
        page().height = paper_.height;
        y_ = margin;
    }
    void need(double height)
    {
        if (y_ + height > paper_.height - 40 && y_ > margin + 1) {
            open_page();
            page().place(drawing::mark_drawing(38), {margin, y_});
            page().add(label({margin + 46, y_ + 8},
                             drawing::fitted(card_.title, width_ - 60, 8.5, Face::bold), 8.5, Token::ink,
                             Anchor::start, Face::bold));
            y_ += 22;
        }
    }

    Outcome head()
    {
        double const qr = card_.record_hash.empty() ? 0 : 74;
        if (qr > 0) {
            TRY_ASSIGN(Scene const code, qr_drawing(qr_text(card_.record_hash), qr));
            page().place(code, {margin + width_ - qr, y_ - 6});
            page().add(label({margin + width_ - qr / 2, y_ + qr - 2}, card_.record_hash.substr(0, 16), 5.6,
                             Token::quiet, Anchor::middle, Face::mono));
        }
        double const room = width_ - qr - 14;
        page().place(drawing::mark_drawing(46), {margin, y_});
        page().add(label({margin + 54, y_ + 9}, drawing::fitted("Job card   " + card_.job.name, room - 54, 9),
                         9, Token::quiet));
        y_ += 32;
        for (std::string const& line : wrapped(card_.title, room, 17, Face::bold)) {
            page().add(label({margin, y_}, line, 17, Token::ink, Anchor::start, Face::bold));
            y_ += 20;
        }
        y_ -= 6;
        double const text = size(10);
        double labels = 0;
        for (Said const& said : card_.facts) labels = std::max(labels, text_width(said.label, text));
        labels = std::min(labels + 10, room * 0.35);
        for (Said const& said : card_.facts) {
            auto const lines = wrapped(said.text, room - labels, text, Face::bold);
            page().add(label({margin, y_ + text}, drawing::fitted(said.label, labels - 4, text), text,
                             Token::quiet));
            for (std::string const& line : lines) {
                y_ += text * 1.32;
                page().add(label({margin + labels, y_ - text * 0.32}, line, text, Token::ink, Anchor::start,
                                 Face::bold));
            }
        }
        y_ = std::max(y_, margin + qr + 2) + 6;
        return {};
    }

    void phase(CardPhase const& phase, int number)
    {
        // As large as it goes without folding, and not larger than the type beside it.
        double const least = 0.78 * scale_ + 0.06;
        double const unfolded = drawing::light_path_drawing(phase.path, width_ / least).height;
        double drawn = large_drawings_ ? std::min(0.9, scale_ + 0.1) : least;
        while (drawn > least &&
               drawing::light_path_drawing(phase.path, width_ / drawn).height > unfolded + 0.5)
            drawn -= 0.05;
        drawn = std::max(drawn, least);
        Scene const line = drawing::light_path_drawing(phase.path, width_ / drawn);
        need(28 + line.height * drawn + size(40));
        // A bar over the width carries the phase's number: found from across the aisle.
        page().add(filled({margin, y_, width_, 20}, Token::ink, 2));
        page().add(label({margin + 8, y_ + 14.5}, fmt::format("{}   {}", number, phase.title), 12.5,
                         Token::paper, Anchor::start, Face::bold));
        y_ += 24;
        page().place(line, {margin, y_}, drawn);
        y_ += line.height * drawn + 2;
        for (std::size_t i = 0; i < phase.steps.size(); ++i)
            step(phase.steps[i], number, static_cast<int>(i) + 1);
        numbers(phase.numbers);
        y_ += size(8);
    }

    void step(CardStep const& step, int phase, int number)
    {
        double const text = size(11);
        double const note = size(9.4);
        double const indent = size(34);
        double const box = size(11);
        double const room = width_ - indent - box - 12;
        auto const lines = wrapped(step.action, room, text, step.changed ? Face::bold : Face::regular);
        auto const look = step.look_for.empty() ? std::vector<std::string>{}
                                                : wrapped("Look for: " + step.look_for, room, note);
        auto const otherwise = step.if_not.empty()
                                   ? std::vector<std::string>{}
                                   : wrapped("If not: " + step.if_not, room, note, Face::italic);
        double const height = static_cast<double>(lines.size()) * text * 1.28 +
                              static_cast<double>(look.size() + otherwise.size()) * note * 1.3 + size(5);
        need(height);
        if (step.changed) page().add(filled({margin - 6, y_ + 1, 4, height - 3}, Token::accent));
        page().add(label({margin, y_ + text}, fmt::format("{}.{}", phase, number), text, Token::accent,
                         Anchor::start, Face::bold));
        // To be ticked by hand.
        page().add(
            drawing::outlined({margin + width_ - box, y_ + 1.5, box, box}, stroke(Token::ink, 0.9), 1.5));
        for (std::string const& line : lines) {
            y_ += text * 1.28;
            page().add(label({margin + indent, y_ - text * 0.28}, line, text, Token::ink, Anchor::start,
                             step.changed ? Face::bold : Face::regular));
        }
        for (std::string const& line : look) {
            y_ += note * 1.3;
            page().add(label({margin + indent, y_ - note * 0.28}, line, note, Token::quiet));
        }
        for (std::string const& line : otherwise) {
            y_ += note * 1.3;
            page().add(label({margin + indent, y_ - note * 0.28}, line, note, Token::ink, Anchor::start,
                             Face::italic));
        }
        y_ += size(2);
        page().add(Line{{margin + indent, y_}, {margin + width_, y_}, stroke(Token::faint, 0.5)});
        y_ += size(3);
    }

    void numbers(std::vector<CardNumber> const& numbers)
    {
        double const text = size(10);
        double const shares[] = {0.36, 0.26, 0.38};
        for (CardNumber const& number : numbers) {
            std::vector<std::string> const cells[] = {
                wrapped(number.what, width_ * shares[0] - 10, text),
                wrapped("Accept: " + number.accept, width_ * shares[1] - 10, text, Face::bold),
                wrapped("Refuse: " + number.refuse, width_ * shares[2] - 14, text)};
            std::size_t most = 1;
            for (auto const& cell : cells) most = std::max(most, cell.size());
            double const height = static_cast<double>(most) * text * 1.28 + size(6);
            need(height + 2);
            page().add(drawing::Rect{{margin, y_, width_, height}, 2, drawing::paint(Token::pass_tint), {}});
            double x = margin + 8;
            for (std::size_t c = 0; c < 3; ++c) {
                for (std::size_t i = 0; i < cells[c].size(); ++i) {
                    page().add(label({x, y_ + size(3) + (static_cast<double>(i) + 0.8) * text * 1.28},
                                     cells[c][i], text, c == 2 ? Token::fail : Token::ink, Anchor::start,
                                     c == 1 ? Face::bold : Face::regular));
                }
                x += width_ * shares[c];
            }
            y_ += height + 2.5;
        }
    }

    void cautions()
    {
        // Two columns, the longer one first: the box stays low, and the type large.
        double const text = size(9.6);
        double const column = (width_ - 34) / 2;
        auto const height_of = [text](std::vector<std::string> const& lines) {
            return static_cast<double>(lines.size()) * text * 1.3 + 1.5;
        };
        std::vector<std::vector<std::string>> items;
        double all = 0;
        for (std::string const& caution : card_.cautions) {
            items.push_back(wrapped(caution, column - 22, text));
            all += height_of(items.back());
        }
        if (items.empty()) return;
        std::size_t first = 0;
        double left = 0;
        while (first < items.size() && left < all / 2) left += height_of(items[first++]);
        double const inside = std::max(left, all - left);
        double const height = size(17) + inside + size(4);
        need(height + size(10));
        page().add(drawing::Rect{{margin, y_, width_, height}, 3, {}, stroke(Token::fail, 1.6)});
        page().add(label({margin + 10, y_ + size(14)}, "Cautions", size(11), Token::fail, Anchor::start,
                         Face::bold));
        double const top = y_ + size(17);
        double at = top;
        for (std::size_t i = 0; i < items.size(); ++i) {
            if (i == first) at = top;
            double const x = margin + 11 + (i < first ? 0 : column + 12);
            page().add(filled({x, at + text * 0.45, 4, 4}, Token::fail));
            for (std::string const& line : items[i]) {
                at += text * 1.3;
                page().add(label({x + 11, at - text * 0.3}, line, text));
            }
            at += 1.5;
        }
        y_ += height + size(10);
    }

    void signatures()
    {
        need(52);
        double const gap = 16;
        double const width = (width_ - 2 * gap) / 3;
        y_ += 30;
        int i = 0;
        for (char const* what : {"Technician: name, signature", "Test lead: name, signature",
                                 "Date and time, source on / reference"}) {
            double const x = margin + i++ * (width + gap);
            page().add(Line{{x, y_}, {x + width, y_}, stroke(Token::ink, 0.8)});
            page().add(label({x, y_ + 9}, what, 7.6, Token::quiet));
        }
        y_ += 14;
    }

    JobCard const& card_;
    Setting const& setting_;
    double scale_;
    bool large_drawings_;
    PaperSize paper_;
    double width_;
    std::vector<Scene> pages_;
    double y_ = 0;
};

} // namespace

Result<Written> write_job_card(JobCard const& card, Setting const& setting, drawing::ByteSink const& sink)
{
    if (!setting.typeface) return Error{Errc::internal, "A document was asked for without a typeface."};
    std::vector<Scene> pages;
    double scale = 1;
    while (true) {
        TRY_ASSIGN(pages, CardPages(card, setting, scale, true).lay_out());
        if (pages.size() <= 2) break;
        // Large type counts for more than large drawings, once it is small.
        if (scale < comfortable_scale) {
            TRY_ASSIGN(pages, CardPages(card, setting, scale, false).lay_out());
            if (pages.size() <= 2) break;
        }
        scale -= 0.04;
        if (scale < floor_scale) {
            std::size_t steps = 0;
            for (CardPhase const& phase : card.phases) steps += phase.steps.size();
            return Error{Errc::refused,
                         fmt::format("The job card needs {} sides and has two: {} steps are too many to be "
                                     "read at arm's length. "
                                     "Join steps or shorten their words, by about {}.",
                                     pages.size(), steps,
                                     std::max<std::size_t>(1, steps - steps * 2 / pages.size()))};
        }
    }
    Written written;
    drawing::DocumentFacts const facts{"Job card: " + card.title, card.job.contractor, card.job.name,
                                       setting.made};
    drawing::PdfDocument document(setting.typeface, facts, [&](std::string_view bytes) {
        written.bytes += bytes.size();
        return sink(bytes);
    });
    for (std::size_t i = 0; i < pages.size(); ++i) {
        Scene& page = pages[i];
        double const foot = page.height - 20;
        std::string const program = setting.program + ", made " + setting.locale.date_time(setting.made);
        page.add(label({margin, foot}, drawing::fitted(program, page.width - 2 * margin - 60, 7), 7,
                       Token::quiet));
        page.add(label({page.width - margin, foot}, fmt::format("{} of {}", i + 1, pages.size()), 7.4,
                       Token::ink, Anchor::end, Face::bold));
        TRY(document.page(page));
    }
    TRY(document.finish());
    written.pages = static_cast<int>(pages.size());
    return written;
}

} // namespace guidepin::report
