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
constexpr double foot = 34; ///< kept free for the line below
constexpr double column_gap = 20;
constexpr double comfortable_scale = 0.9;
/// 11 pt steps do not become smaller than 9 pt: read at arm's length. Advice is left out before that.
constexpr double floor_scale = 9.0 / 11;

/// How many notes of advice a card has: what to look for, in the order of the steps, then what to do if not.
std::size_t notes_of(JobCard const& card)
{
    std::size_t notes = 0;
    for (CardPhase const& phase : card.phases) {
        for (CardStep const& step : phase.steps)
            notes += (step.look_for.empty() ? 0U : 1U) + (step.if_not.empty() ? 0U : 1U);
    }
    return notes;
}

/// A card is laid out at one scale of type; when it does not fit on two sides the next smaller is tried.
class CardPages
{
  public:
    CardPages(JobCard const& card, Setting const& setting, double scale, bool large_drawings,
              std::size_t most_notes)
        : card_(card)
        , scale_(scale)
        , large_drawings_(large_drawings)
        , most_notes_(most_notes)
        , tight_(most_notes == 0)
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
        if (y_ + height > paper_.height - foot && y_ > margin + 1) next_side();
    }
    void next_side()
    {
        open_page();
        page().place(drawing::mark_drawing(38), {margin, y_});
        page().add(label({margin + 46, y_ + 8}, drawing::fitted(card_.title, width_ - 60, 8.5, Face::bold),
                         8.5, Token::ink, Anchor::start, Face::bold));
        y_ += 22;
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
        double const text = size(tight_ ? 8.2 : 9.6);
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
        double const least = (0.78 * scale_ + 0.06) * (tight_ ? 0.82 : 1);
        double const unfolded = drawing::light_path_drawing(phase.path, width_ / least).height;
        double drawn = large_drawings_ ? std::min(0.9, scale_ + 0.1) : least;
        while (drawn > least &&
               drawing::light_path_drawing(phase.path, width_ / drawn).height > unfolded + 0.5)
            drawn -= 0.05;
        drawn = std::max(drawn, least);
        Scene const line = drawing::light_path_drawing(phase.path, width_ / drawn);
        need(28 + line.height * drawn + size(60));
        // A bar over the width carries the phase's number: found from across the aisle.
        page().add(filled({margin, y_, width_, 20}, Token::ink, 2));
        page().add(label({margin + 8, y_ + 14.5}, fmt::format("{}   {}", number, phase.title), 12.5,
                         Token::paper, Anchor::start, Face::bold));
        y_ += 24;
        page().place(line, {margin, y_}, drawn);
        y_ += line.height * drawn + 2;
        steps(phase.steps, number);
        numbers(phase.numbers);
        y_ += size(8);
    }

    /// A step with its words broken into lines.
    struct LaidStep
    {
        std::string number;
        bool changed = false;
        std::vector<std::string> action, look, otherwise;
        double height = 0;
    };
    double step_text() const { return size(11); }
    double note_text() const { return size(9.6); }
    double step_indent() const { return size(29); }
    double column_width() const { return (width_ - column_gap) / 2; }

    LaidStep laid(CardStep const& step, std::string number)
    {
        LaidStep made;
        made.number = std::move(number);
        made.changed = step.changed;
        double const room = column_width() - step_indent() - size(11) - 6;
        made.action = wrapped(step.action, room, step_text(), step.changed ? Face::bold : Face::regular);
        double const note_room = column_width() - step_indent() - 2;
        if (!step.look_for.empty() && looks_++ < most_notes_)
            made.look = wrapped("Look for: " + step.look_for, note_room, note_text());
        if (!step.if_not.empty() && all_looks() + others_++ < most_notes_)
            made.otherwise = wrapped("If not: " + step.if_not, note_room, note_text(), Face::italic);
        made.height = static_cast<double>(made.action.size()) * step_text() * 1.24 +
                      static_cast<double>(made.look.size() + made.otherwise.size()) * note_text() * 1.22 +
                      size(4.5);
        return made;
    }

    std::size_t all_looks() const
    {
        std::size_t looks = 0;
        for (CardPhase const& phase : card_.phases) {
            for (CardStep const& step : phase.steps) looks += step.look_for.empty() ? 0U : 1U;
        }
        return looks;
    }

    /// In two columns, down the left one first; what does not fit goes on on the next side.
    void steps(std::vector<CardStep> const& steps, int phase)
    {
        std::vector<LaidStep> all;
        for (std::size_t i = 0; i < steps.size(); ++i)
            all.push_back(laid(steps[i], fmt::format("{}.{}", phase, i + 1)));
        std::size_t at = 0;
        while (at < all.size()) {
            double const room = paper_.height - foot - y_;
            double rest = 0;
            for (std::size_t i = at; i < all.size(); ++i) rest += all[i].height;
            // How far the left column goes: half of what is left, or as far as the side does.
            double left = 0;
            std::size_t middle = at;
            while (middle < all.size() && left + all[middle].height / 2 <= std::min(rest / 2, room) &&
                   left + all[middle].height <= room)
                left += all[middle++].height;
            double right = 0;
            std::size_t end = middle;
            while (end < all.size() && right + all[end].height <= room) right += all[end++].height;
            if (end == at) {
                if (y_ <= margin + 30)
                    end = middle = at + 1; // taller than a side: drawn all the same
                else {
                    next_side();
                    continue;
                }
            }
            double const top = y_;
            for (std::size_t i = at; i < end; ++i) {
                if (i == middle) y_ = top;
                draw(all[i], margin + (i < middle ? 0 : column_width() + column_gap));
            }
            page().add(Line{{margin + column_width() + column_gap / 2, top + 2},
                            {margin + column_width() + column_gap / 2, top + std::max(left, right) - 3},
                            stroke(Token::faint, 0.6)});
            y_ = top + std::max(left, right);
            at = end;
            if (at < all.size()) next_side();
        }
    }

    void draw(LaidStep const& step, double x)
    {
        double const text = step_text(), note = note_text(), box = size(11);
        double const top = y_;
        if (step.changed) page().add(filled({x - 6, top + 1, 4, step.height - 3}, Token::accent));
        page().add(label({x, top + text}, step.number, text, Token::accent, Anchor::start, Face::bold));
        // To be ticked by hand.
        page().add(
            drawing::outlined({x + column_width() - box, top + 1.5, box, box}, stroke(Token::ink, 0.9), 1.5));
        double const words = x + step_indent();
        auto const lines = [&](std::vector<std::string> const& all, double font, double leading, Token token,
                               Face face) {
            for (std::string const& line : all) {
                y_ += font * leading;
                page().add(label({words, y_ - font * (leading - 1)}, line, font, token, Anchor::start, face));
            }
        };
        lines(step.action, text, 1.24, Token::ink, step.changed ? Face::bold : Face::regular);
        lines(step.look, note, 1.22, Token::quiet, Face::regular);
        lines(step.otherwise, note, 1.22, Token::ink, Face::italic);
        y_ = top + step.height;
        page().add(
            Line{{words, y_ - size(1.6)}, {x + column_width(), y_ - size(1.6)}, stroke(Token::faint, 0.5)});
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
        double const text = size(tight_ ? 8.4 : 9.6);
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
    double scale_;
    bool large_drawings_;
    std::size_t most_notes_; ///< of advice; the sheet in the program keeps all of it
    bool tight_;             ///< for the steps alone: the space around them shrinks as well
    std::size_t looks_ = 0, others_ = 0;
    PaperSize paper_;
    double width_;
    std::vector<Scene> pages_;
    double y_ = 0;
};

/// The largest type that two sides hold; then smaller drawings; at the floor less advice. False: the steps
/// alone are too many.
Result<bool> laid_out(JobCard const& card, Setting const& setting, std::vector<Scene>& pages)
{
    std::size_t const notes = notes_of(card);
    for (double scale = 1; scale > floor_scale - 1e-9; scale = std::max(scale - 0.02, floor_scale)) {
        for (bool const large_drawings : {true, false}) {
            // Large type counts for more than large drawings, once it is small.
            if (!large_drawings && scale >= comfortable_scale) continue;
            TRY_ASSIGN(pages, CardPages(card, setting, scale, large_drawings, notes).lay_out());
            if (pages.size() <= 2) return true;
        }
        if (scale <= floor_scale) break;
    }
    // As many notes as two sides hold beside steps of the least size.
    TRY_ASSIGN(pages, CardPages(card, setting, floor_scale, false, 0).lay_out());
    if (pages.size() > 2) return false;
    std::size_t fit = 0, too_many = notes;
    while (too_many - fit > 1) {
        std::size_t const middle = fit + (too_many - fit) / 2;
        TRY_ASSIGN(auto tried, CardPages(card, setting, floor_scale, false, middle).lay_out());
        if (tried.size() <= 2) {
            fit = middle;
            pages = std::move(tried);
        } else {
            too_many = middle;
        }
    }
    return true;
}

} // namespace

Result<Written> write_job_card(JobCard const& card, Setting const& setting, drawing::ByteSink const& sink)
{
    if (!setting.typeface) return Error{Errc::internal, "A document was asked for without a typeface."};
    std::vector<Scene> pages;
    TRY_ASSIGN(bool const fits, laid_out(card, setting, pages));
    if (!fits) {
        std::size_t steps = 0;
        for (CardPhase const& phase : card.phases) steps += phase.steps.size();
        return Error{Errc::refused,
                     fmt::format("The job card needs {} sides and has two: {} steps are too many to be "
                                 "read at arm's length. "
                                 "Join steps or shorten their words, by about {}.",
                                 pages.size(), steps,
                                 std::max<std::size_t>(1, steps - steps * 2 / pages.size()))};
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
        double const base = page.height - 20;
        std::string const program = setting.program + ", made " + setting.locale.date_time(setting.made);
        page.add(label({margin, base}, drawing::fitted(program, page.width - 2 * margin - 60, 7), 7,
                       Token::quiet));
        page.add(label({page.width - margin, base}, fmt::format("{} of {}", i + 1, pages.size()), 7.4,
                       Token::ink, Anchor::end, Face::bold));
        TRY(document.page(page));
    }
    TRY(document.finish());
    written.pages = static_cast<int>(pages.size());
    return written;
}

} // namespace guidepin::report
