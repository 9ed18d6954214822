// SPDX-License-Identifier: Apache-2.0
#include "report/summary.hpp"

#include "drawing/font_metrics.hpp"
#include "drawing/shapes.hpp"
#include "report/flow.hpp"
#include "report/parts.hpp"
#include "report/standing.hpp"

#include <algorithm>

#include <fmt/format.h>

namespace guidepin::report {

using drawing::Anchor;
using drawing::Face;
using drawing::label;
using drawing::Line;
using drawing::Standing;
using drawing::stroke;
using drawing::Token;

namespace {

struct Chapter
{
    char const* title;
    char const* destination;
    bool there;
};

class SummaryPages
{
  public:
    SummaryPages(Summary const& summary, Setting const& setting)
        : s_(summary)
        , setting_(setting)
        , locale_(setting.locale)
    {
    }

    std::vector<Chapter> chapters() const
    {
        return {{"What was promised", "promised", !s_.promised.empty()},
                {"What was tested, and how", "tested", true},
                {"Results by zone", "zones", !s_.zones.empty()},
                {"Failing links", "failing", !s_.failing.empty()},
                {"Held links", "held", !s_.held.empty()},
                {"Open links", "open", !s_.open.empty()},
                {"Least margins", "worst", !s_.worst.empty()},
                {"Site map of margins", "site", s_.site.has_value()},
                {"Applications", "applications", !s_.applications.empty()},
                {"Findings", "findings", true},
                {"References", "references", !s_.references.empty()},
                {"Instruments and cords", "instruments", !s_.instruments.empty() || !s_.cords.empty()},
                {"Rests on unconfirmed values", "unconfirmed", !s_.unconfirmed.empty()},
                {"Evidence", "evidence", !s_.evidence.empty()},
                {"Sources", "sources", !s_.sources.empty()},
                {"Acceptance", "acceptance", true}};
    }

    Outcome write(Flow& flow)
    {
        TRY(cover(flow));
        flow.new_page();
        promised_and_tested(flow);
        zones(flow);
        listed(flow, "Failing links", "failing", s_.failing);
        listed(flow, "Held links", "held", s_.held,
               "Measured under a reference that is now in doubt. Nothing is lost: each is cleared or "
               "condemned by a retest, or by what its reference turns out to be.");
        listed(flow, "Open links", "open", s_.open, "Promised, and not measured completely yet.");
        listed(flow, "Least margins", "worst", s_.worst);
        site(flow);
        applications(flow);
        findings(flow);
        references(flow);
        instruments(flow);
        unconfirmed_chapter(flow, s_.unconfirmed);
        evidence(flow);
        sources_chapter(flow, s_.sources);
        acceptance(flow);
        return {};
    }

  private:
    Outcome cover(Flow& flow)
    {
        flow.need(200);
        double const top = flow.y();
        constexpr double qr_size = 92;
        TRY_ASSIGN(double const qr, place_qr(flow, s_.record_hash, top, qr_size));
        double const room = flow.width() - (qr > 0 ? qr + 24 : 0);
        double y = top + 12;
        flow.canvas().add(label({flow.left(), y}, "Summary of tests", 10, Token::quiet));
        y += 26;
        for (std::string const& line : drawing::wrapped(s_.job.name, room, 24, Face::bold)) {
            flow.canvas().add(label({flow.left(), y}, line, 24, Token::ink, Anchor::start, Face::bold));
            y += 29;
        }
        flow.move_to(y - 10);
        flow.said({{"Site", s_.job.site},
                   {"Customer", s_.job.customer},
                   {"Contractor", s_.job.contractor},
                   {"Made", locale_.date_time(setting_.made)}},
                  1, room);
        flow.move_to(std::max(flow.y(), top + qr_size + 36) + 6);

        // The answer, before anything else.
        auto const lines = drawing::wrapped(s_.verdict_line, flow.width() - 62, 14, Face::bold);
        double const height = std::max(44.0, static_cast<double>(lines.size()) * 18 + 22);
        double const band = flow.y();
        flow.canvas().add(
            drawing::Rect{{flow.left(), band, flow.width(), height}, 4, drawing::paint(Token::tint), {}});
        flow.canvas().add(drawing::filled({flow.left(), band, 4, height}, Token::accent));
        flow.canvas().place(drawing::sign_drawing(s_.standing, 24),
                            {flow.left() + 17, band + height / 2 - 12});
        double text_y = band + height / 2 - static_cast<double>(lines.size() - 1) * 9 + 5;
        for (std::string const& line : lines) {
            flow.canvas().add(
                label({flow.left() + 52, text_y}, line, 14, Token::ink, Anchor::start, Face::bold));
            text_y += 18;
        }
        flow.move_to(band + height + 10);
        totals(flow);
        flow.heading("Contents", "contents", 40);
        for (Chapter const& chapter : chapters()) {
            if (chapter.there) flow.contents_line(chapter.title, chapter.destination, std::nullopt, 0);
        }
        return {};
    }

    /// One bar over the whole width: the shares of the verdicts, each with its sign and number.
    void totals(Flow& flow)
    {
        ZoneCount all;
        for (ZoneCount const& zone : s_.zones) {
            all.scheduled += zone.scheduled;
            all.pass += zone.pass;
            all.marginal += zone.marginal;
            all.fail += zone.fail;
            all.held += zone.held;
            all.open += zone.open;
        }
        if (all.scheduled <= 0) return;
        double const y = flow.y();
        double x = flow.left();
        double const unit = flow.width() / all.scheduled;
        struct Share
        {
            Standing standing;
            int count;
            char const* word;
        };
        std::vector<Share> const shares{{Standing::pass, all.pass, "pass"},
                                        {Standing::marginal_pass, all.marginal, "marginal"},
                                        {Standing::fail, all.fail, "fail"},
                                        {Standing::held, all.held, "held"},
                                        {Standing::open, all.open, "open"}};
        for (Share const& share : shares) {
            double const width = share.count * unit;
            if (width <= 0) continue;
            drawing::Box const box{x, y, width, 12};
            switch (share.standing) {
            case Standing::fail:
                flow.canvas().add(drawing::filled({x, y - 3, std::max(width, 1.5), 18}, Token::fail));
                break;
            case Standing::held:
                flow.canvas().add(
                    drawing::Rect{box, 0, drawing::paint(Token::paper), stroke(Token::held, 0.8)});
                flow.canvas().add(drawing::Hatch{box, 4, stroke(Token::held, 0.8)});
                break;
            case Standing::open:
                flow.canvas().add(drawing::outlined({x + 0.5, y + 0.5, std::max(width - 1, 0.5), 11},
                                                    stroke(Token::open, 0.8, true)));
                break;
            case Standing::marginal_pass:
                flow.canvas().add(drawing::filled(box, Token::pass_tint));
                break;
            default:
                flow.canvas().add(drawing::filled(box, Token::pass));
                break;
            }
            x += width;
        }
        x = flow.left();
        double const baseline = y + 30;
        for (Share const& share : shares) {
            if (share.count == 0 && share.standing == Standing::marginal_pass) continue;
            flow.canvas().place(drawing::sign_drawing(share.standing, 11), {x, baseline - 9.4});
            std::string const text = fmt::format("{} {}", locale_.whole(share.count), share.word);
            flow.canvas().add(label({x + 15, baseline}, text, 9.5, Token::ink, Anchor::start, Face::bold));
            x += 15 + drawing::text_width(text, 9.5, Face::bold) + 18;
        }
        flow.canvas().add(label({flow.left() + flow.width(), baseline},
                                fmt::format("of {} links", locale_.whole(all.scheduled)), 9.5, Token::quiet,
                                Anchor::end));
        flow.move_to(baseline + 6);
    }

    void promised_and_tested(Flow& flow)
    {
        if (!s_.promised.empty()) {
            flow.heading("What was promised", "promised", 60);
            flow.said(s_.promised, 1);
        }
        flow.heading("What was tested, and how", "tested", 60);
        flow.said(s_.tested, 1);
        if (!s_.decision_rule_text.empty()) {
            flow.subheading("Decision rule");
            flow.paragraph(s_.decision_rule_text);
        }
        for (drawing::LightPath const& path : s_.setups) {
            flow.space(8);
            flow.figure(drawing::light_path_drawing(path, flow.width() / 0.66), 0.66);
        }
    }

    void zones(Flow& flow)
    {
        if (s_.zones.empty()) return;
        flow.heading("Results by zone", "zones", 60);
        FlowTable table;
        table.total = true;
        table.size = 8;
        table.least_height = 13;
        table.columns = {{"Zone", 2.4},
                         {"Links", 0.8, Anchor::end},
                         {"Pass", 0.8, Anchor::end},
                         {"Marginal", 0.9, Anchor::end},
                         {"Fail", 0.8, Anchor::end},
                         {"Held", 0.8, Anchor::end},
                         {"Open", 0.8, Anchor::end},
                         {"Least margin, dB", 1.5, Anchor::end}};
        ZoneCount all;
        all.zone = "All";
        auto const row_of = [&](ZoneCount const& zone) {
            auto const count = [&](int value, Token token) {
                return TableCell{locale_.whole(value), value > 0 ? token : Token::quiet,
                                 value > 0 && token == Token::fail ? Face::bold : Face::regular};
            };
            return std::vector<TableCell>{{zone.zone},
                                          count(zone.scheduled, Token::ink),
                                          count(zone.pass, Token::ink),
                                          count(zone.marginal, Token::ink),
                                          count(zone.fail, Token::fail),
                                          count(zone.held, Token::ink),
                                          count(zone.open, Token::ink),
                                          {locale_.decibel(zone.worst_margin)}};
        };
        for (ZoneCount const& zone : s_.zones) {
            table.rows.push_back(row_of(zone));
            all.scheduled += zone.scheduled;
            all.pass += zone.pass;
            all.marginal += zone.marginal;
            all.fail += zone.fail;
            all.held += zone.held;
            all.open += zone.open;
            if (zone.worst_margin && (!all.worst_margin || *zone.worst_margin < *all.worst_margin))
                all.worst_margin = zone.worst_margin;
        }
        table.rows.push_back(row_of(all));
        flow.table(table);
    }

    std::vector<ListedLink> const* first_list() const
    {
        for (std::vector<ListedLink> const* list : {&s_.failing, &s_.held, &s_.open, &s_.worst}) {
            if (!list->empty()) return list;
        }
        return nullptr;
    }

    void listed(Flow& flow, char const* title, char const* destination, std::vector<ListedLink> const& links,
                char const* preface = nullptr)
    {
        if (links.empty()) return;
        flow.heading(fmt::format("{}: {}", title, locale_.whole(static_cast<long long>(links.size()))),
                     destination, 60);
        if (preface) flow.paragraph(preface, 8.2, Token::quiet);
        // The signs are explained once, above the first list there is.
        if (&links == first_list()) legend(flow);
        FlowTable table;
        table.least_height = 15;
        table.columns = {{"Link", 1.7},
                         {"Row", 1.75},
                         {"Verdict", 1.15},
                         {"Worst", 1.15},
                         {"Margin, dB", 0.75, Anchor::end},
                         {"p_c", 0.85, Anchor::end},
                         {"", 0.1},
                         {"Reason", 2.8}};
        ListedLink const* full = nullptr; // the last link whose reason was written out
        for (ListedLink const& link : links) {
            TableCell picture;
            if (link.row) picture.picture = drawing::row_drawing(*link.row, drawing::RowSize::compact);
            TableCell verdict{drawing::word_of(link.standing), token_of(link.standing)};
            verdict.sign = link.standing;
            // One event holds many links: its reason is read once, not on every line.
            bool const same = full && !link.reason.empty() && link.reason == full->reason;
            std::string reason = same ? "as " + full->link : link.reason;
            if (!same) full = &link;
            if (!link.certificate.empty()) reason += (reason.empty() ? "" : "\n") + link.certificate;
            table.rows.push_back(
                {{link.zone.empty() ? link.link : link.link + "\n" + link.zone, Token::ink, Face::bold},
                 picture,
                 verdict,
                 {link.worst},
                 {locale_.decibel(link.margin),
                  link.margin && link.margin->value() < 0 ? Token::fail : Token::ink, Face::bold},
                 {link.conformity ? locale_.percent(*link.conformity) : "–"},
                 {""},
                 {reason}});
        }
        flow.table(table);
    }

    void site(Flow& flow)
    {
        if (!s_.site) return;
        flow.heading("Site map of margins", "site", 140);
        flow.paragraph("Links down, positions across; the level of each cell is attenuation / limit, the "
                       "worst over wavelengths and directions. A column points at a test cord, a line at a "
                       "link, a block at a time.",
                       8.2, Token::quiet);
        legend(flow);
        flow.space(4);
        // A zone at a time, cut to what a page holds: thousands of links go on over as many pages as they
        // need.
        constexpr double scale = 0.86;
        for (drawing::SiteZone const& zone : s_.site->zones) {
            constexpr std::size_t a_piece = 48;
            drawing::SiteMap piece = *s_.site;
            piece.zones.clear();
            for (std::size_t from = 0; from < zone.lines.size(); from += a_piece) {
                drawing::SiteZone part;
                part.columns = zone.columns;
                std::size_t const to = std::min(from + a_piece, zone.lines.size());
                part.name = zone.lines.size() > a_piece
                                ? fmt::format("{} ({} to {})", zone.name, from + 1, to)
                                : zone.name;
                part.lines.assign(zone.lines.begin() + static_cast<std::ptrdiff_t>(from),
                                  zone.lines.begin() + static_cast<std::ptrdiff_t>(to));
                piece.zones.push_back(std::move(part));
                if (piece.zones.size() == 3 || to == zone.lines.size()) {
                    if (to == zone.lines.size())
                        pending_.insert(pending_.end(), piece.zones.begin(), piece.zones.end());
                    else
                        flow.figure(drawing::site_drawing(piece, flow.width() / scale), scale);
                    piece.zones.clear();
                }
            }
            if (pending_.size() >= 3) flush_site(flow, scale);
        }
        flush_site(flow, scale);
    }

    void flush_site(Flow& flow, double scale)
    {
        if (pending_.empty()) return;
        drawing::SiteMap piece;
        piece.name = s_.site->name;
        piece.labels = s_.site->labels;
        piece.zones = std::move(pending_);
        pending_.clear();
        flow.figure(drawing::site_drawing(piece, flow.width() / scale), scale);
        flow.space(8);
    }

    void applications(Flow& flow)
    {
        if (s_.applications.empty()) return;
        flow.heading("Applications", "applications", 50);
        FlowTable table;
        table.columns = {{"Application", 1.6},
                         {"Supported", 0.9, Anchor::end},
                         {"Not supported", 1.1, Anchor::end},
                         {"Cannot be said", 1.1, Anchor::end},
                         {"", 0.2},
                         {"Remark", 3}};
        for (ApplicationCount const& application : s_.applications) {
            table.rows.push_back({{application.name, Token::ink, Face::bold},
                                  {locale_.whole(application.supported)},
                                  {locale_.whole(application.not_supported),
                                   application.not_supported > 0 ? Token::fail : Token::ink},
                                  {locale_.whole(application.cannot_say)},
                                  {""},
                                  {application.remark}});
        }
        flow.table(table);
    }

    void findings(Flow& flow)
    {
        flow.heading("Findings", "findings", 40);
        if (s_.findings.empty()) {
            flow.paragraph("None: all links read as their kind does.");
            return;
        }
        flow.paragraph(
            "What the readings say together, most important first: each with its evidence, what it "
            "could also be, and what to do first. An acknowledged finding stays here, with name and reason.");
        int number = 0;
        for (ListedFinding const& finding : s_.findings) {
            // A picture stays with its words.
            double const picture = finding.picture ? std::min(finding.picture->height * 0.72, 220.0) + 50 : 0;
            flow.subheading(fmt::format("{}  {} ({})", ++number, finding.title, finding.severity),
                            44 + picture);
            std::vector<Said> said{
                {"Where", finding.where}, {"Evidence", finding.evidence}, {"Next action", finding.action}};
            if (!finding.acknowledged.empty()) said.push_back({"Acknowledged", finding.acknowledged});
            flow.said(said, 1);
            if (finding.picture) flow.figure(*finding.picture, 0.72);
        }
    }

    void references(Flow& flow)
    {
        if (s_.references.empty()) return;
        flow.heading("References", "references", 60);
        FlowTable table;
        table.columns = {{"Reference", 1},
                         {"Taken", 1.7},
                         {"By", 1.1},
                         {"Method", 1.2},
                         {"Outcome", 1.4},
                         {"Cord check", 1.7},
                         {"Links", 0.6, Anchor::end},
                         {"", 0.1},
                         {"Remark", 1.9}};
        for (ListedReference const& reference : s_.references) {
            table.rows.push_back({{reference.id, Token::ink, Face::bold},
                                  {locale_.date_time(reference.taken)},
                                  {reference.by},
                                  {reference.method},
                                  {reference.outcome},
                                  {reference.cord_check},
                                  {locale_.whole(reference.links)},
                                  {""},
                                  {reference.remark}});
        }
        // If the job does not say who took its references, leave the column out.
        bool const named =
            std::any_of(s_.references.begin(), s_.references.end(),
                        [](ListedReference const& reference) { return !reference.by.empty(); });
        if (!named) {
            table.columns.erase(table.columns.begin() + 2);
            for (auto& row : table.rows) row.erase(row.begin() + 2);
        }
        flow.table(table);
        for (ListedReference const& reference : s_.references) {
            if (!reference.chart) continue;
            flow.subheading(
                fmt::format("{}: common offset of its links, in the order measured", reference.id), 150);
            drawing::ControlChart chart = *reference.chart;
            chart.number = [this](double value, int decimals) { return locale_.number(value, decimals); };
            flow.figure(drawing::control_drawing(chart, flow.width() / 0.86, 170), 0.86);
        }
    }

    void instruments(Flow& flow)
    {
        if (s_.instruments.empty() && s_.cords.empty()) return;
        flow.heading("Instruments and cords", "instruments", 60);
        if (!s_.instruments.empty()) {
            FlowTable table;
            table.columns = {{"Role", 1}, {"Instrument", 2}, {"Serial", 1.6}, {"Calibrated", 2.4}};
            for (Instrument const& i : s_.instruments)
                table.rows.push_back(
                    {{i.role}, {i.name}, {i.serial, Token::ink, Face::mono}, {i.calibrated}});
            flow.table(table);
        }
        if (!s_.cords.empty()) {
            flow.space(6);
            FlowTable table;
            table.columns = {
                {"Role", 1}, {"Serial", 1.6}, {"Kind", 2}, {"Ends", 2}, {"Matings (near / far)", 1.4}};
            for (TestCord const& cord : s_.cords)
                table.rows.push_back({{cord.role},
                                      {cord.serial, Token::ink, Face::mono},
                                      {cord.kind},
                                      {cord.ends},
                                      {cord.matings}});
            flow.table(table);
        }
    }

    void evidence(Flow& flow)
    {
        if (s_.evidence.empty()) return;
        flow.heading("Evidence", "evidence", 50);
        flow.paragraph("Each record carries the hash of the one before it, and the end of each chain is "
                       "signed by its station: a change to any of them shows. The program checks a package "
                       "without trusting who made it.",
                       8.2, Token::quiet);
        flow.said(s_.evidence, 1);
    }

    void acceptance(Flow& flow)
    {
        flow.heading("Acceptance", "acceptance", 190);
        flow.paragraph("Acceptance is the decision of the qualified person who signs, not of the program "
                       "that made this summary.",
                       9, Token::ink, Face::bold);
        flow.space(10);
        double const gap = 24;
        double const width = (flow.width() - gap) / 2;
        double const top = flow.y();
        for (int column = 0; column < 2; ++column) {
            double const x = flow.left() + column * (width + gap);
            flow.canvas().add(
                label({x, top + 10},
                      column == 0 ? "Tested by, for the contractor" : "Accepted by, for the customer", 9,
                      Token::ink, Anchor::start, Face::bold));
            double y = top + 44;
            for (char const* what : {"Name", "Date", "Signature"}) {
                flow.canvas().add(Line{{x, y}, {x + width, y}, stroke(Token::ink, 0.7)});
                flow.canvas().add(label({x, y + 9}, what, 7.4, Token::quiet));
                y += 36;
            }
        }
        flow.move_to(top + 130);
    }

    Summary const& s_;
    Setting const& setting_;
    Locale const& locale_;
    std::vector<drawing::SiteZone> pending_;
};

} // namespace

Result<Written> write_summary(Summary const& summary, Setting const& setting, drawing::ByteSink const& sink)
{
    SummaryPages pages(summary, setting);
    drawing::DocumentFacts const facts{summary.job.name + ": summary of tests", summary.job.contractor,
                                       summary.verdict_line, setting.made};
    auto const outline = [&](drawing::PdfDocument& document, Bearings const&) {
        for (Chapter const& chapter : pages.chapters()) {
            if (chapter.there) document.add_outline({chapter.title, chapter.destination, 0});
        }
    };
    return two_walks(
        setting, facts, {summary.job.name, "Summary of tests", foot_text(setting)}, sink,
        [&](Flow& flow) { return pages.write(flow); }, outline);
}

} // namespace guidepin::report
