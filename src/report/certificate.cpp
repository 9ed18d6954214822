// SPDX-License-Identifier: Apache-2.0
#include "report/certificate.hpp"

#include "drawing/font_metrics.hpp"
#include "drawing/shapes.hpp"
#include "report/flow.hpp"
#include "report/parts.hpp"
#include "report/standing.hpp"

#include "base/text.hpp"

#include <algorithm>

#include <fmt/format.h>

namespace guidepin::report {

using drawing::Anchor;
using drawing::Face;
using drawing::label;
using drawing::Standing;
using drawing::Token;

namespace {

std::string destination_of(std::size_t index)
{
    return fmt::format("link-{}", index + 1);
}

std::string wavelength_text(Nanometres wavelength)
{
    return fmt::format("{} nm", wavelength.value());
}

class LinkPages
{
  public:
    LinkPages(Flow& flow, LinkCertificate const& certificate, Locale const& locale)
        : flow_(flow)
        , c_(certificate)
        , locale_(locale)
    {
    }

    Outcome write(std::string const& destination)
    {
        TRY(band(destination));
        rows();
        light_path();
        bars();
        readings();
        limits(); // a table, so it fills what is left of the first page, where the polarity's picture would
                  // not fit
        polarity_and_length();
        applications();
        std::vector<Said> record = c_.reference;
        record.insert(record.end(), c_.measurement.begin(), c_.measurement.end());
        if (!c_.record_id.empty()) record.push_back({"Record", c_.record_id, true});
        // Two columns, about 13 points a line: the heading goes where they go.
        flow_.heading("Reference and measurement", {},
                      48 + 13.0 * static_cast<double>((record.size() + 1) / 2));
        flow_.said(record, 2);
        earlier();
        if (!c_.remarks.empty()) {
            flow_.heading("Remarks", {}, 20);
            flow_.bullets(c_.remarks);
        }
        unconfirmed_chapter(flow_, c_.unconfirmed);
        sign_off(flow_);
        return {};
    }

  private:
    /// Identity at the left, QR code at the right, the verdict between rules below.
    Outcome band(std::string const& destination)
    {
        flow_.mark(destination);
        double const top = flow_.y();
        constexpr double qr_size = 84;
        TRY_ASSIGN(double const qr, place_qr(flow_, c_.record_hash, top - 6, qr_size));
        double const room = flow_.width() - (qr > 0 ? qr + 20 : 0);
        auto const names = drawing::wrapped(c_.link.id, room, 19, Face::bold);
        double y = top + 15;
        for (std::string const& name : names) {
            flow_.canvas().add(label({flow_.left(), y}, name, 19, Token::ink, Anchor::start, Face::bold));
            y += 22;
        }
        Standing const standing = standing_of(c_.state);
        flow_.canvas().place(drawing::sign_drawing(standing, 22), {flow_.left(), y - 9});
        std::string const word = drawing::word_of(standing);
        flow_.canvas().add(
            label({flow_.left() + 29, y + 9}, word, 17, token_of(standing), Anchor::start, Face::bold));
        double const reason_x = 29 + drawing::text_width(word, 17, Face::bold) + 14;
        auto const reason = drawing::wrapped(c_.verdict_reason, std::max(room - reason_x, 120.0), 8.6);
        double reason_y = y + (reason.size() > 1 ? 2 : 7.5);
        for (std::string const& line : reason) {
            flow_.canvas().add(label({flow_.left() + reason_x, reason_y}, line, 8.6));
            reason_y += 11.6;
        }
        flow_.move_to(std::max(y + 24, reason_y + 2));

        plant::LinkSpec const& link = c_.link;
        auto const end_text = [](plant::LinkEnd const& end) {
            return fmt::format("{} ({}, {})", end.name, plant::name_of(end.pins),
                               end.fitting == plant::EndFitting::bare_plug
                                   ? std::string("bare plug")
                                   : fmt::format("{} keys", plant::name_of(end.fitting)));
        };
        std::vector<Said> facts{
            {"End A", end_text(link.a)},
            {"End B", end_text(link.b)},
            {"Fibre", fmt::format("{}, {} positions used: {}", link.category, link.fibres.count(),
                                  plant::occupancy_text(link.fibres))},
            {"Connectors", fmt::format("{}, {}", plant::words_of(link.family), plant::name_of(link.face))},
            {"Cabling", fmt::format("{}; inner connections {}, splices {}",
                                    link.trunk_type.empty() ? "type not given" : "type " + link.trunk_type,
                                    link.inner_connections, link.splices)},
            {"Rule set", c_.rule_set},
            {"Decision rule", c_.decision_rule},
            {"Method", c_.method}};
        if (!link.zone.empty()) facts.insert(facts.begin(), Said{"Zone", link.zone});
        if (c_.worst_margin && c_.worst_position) {
            facts.push_back(
                {"Least margin",
                 fmt::format("{} dB at position {}{}", locale_.decibel(c_.worst_margin), *c_.worst_position,
                             c_.worst_wavelength ? ", " + wavelength_text(*c_.worst_wavelength) : "")});
        }
        flow_.said(facts, 2, room);
        flow_.move_to(std::max(flow_.y(), top + qr_size + (qr > 0 ? 26 : 0)));
        return {};
    }

    drawing::Row row() const
    {
        drawing::Row row;
        row.name = c_.link.id;
        row.rows = c_.link.family.rows;
        row.columns = c_.link.family.columns;
        for (CertifiedWavelength const& w : c_.wavelengths) {
            drawing::RowLayer layer{wavelength_text(w.wavelength), {}};
            layer.tanks.assign(static_cast<std::size_t>(c_.link.family.positions()),
                               drawing::Tank{Standing::unused, {}, {}});
            for (std::size_t i = 0; i < c_.positions.size() && i < w.readings.size(); ++i) {
                auto const at = static_cast<std::size_t>(c_.positions[i] - 1);
                if (at >= layer.tanks.size()) continue;
                CertifiedReading const& reading = w.readings[i];
                layer.tanks[at] = {standing_of(reading.state), {}, {}};
                if (reading.attenuation && w.limit.total.value() > 0)
                    layer.tanks[at].level = *reading.attenuation / w.limit.total;
            }
            row.layers.push_back(std::move(layer));
        }
        return row;
    }

    void rows()
    {
        if (c_.wavelengths.empty()) return;
        drawing::Row shown = row();
        bool const beside = shown.layers.size() == 2 && shown.columns <= 12;
        shown.arrangement = beside ? drawing::Layers::side_by_side : drawing::Layers::stacked;
        flow_.space(4);
        flow_.figure(drawing::row_drawing(shown, drawing::RowSize::large), 0.62);
        legend(flow_);
    }

    /// Kilometres of cable as the coefficient counts them; in a job in feet the length as people know it.
    std::string cable_text(double kilometres) const
    {
        if (locale_.length_unit == LengthUnit::feet) return locale_.length(Metres{kilometres * 1000});
        return locale_.number(kilometres, 3) + " km";
    }

    void light_path()
    {
        if (!c_.light_path) return;
        flow_.heading("Light path", {}, 110);
        flow_.figure(drawing::light_path_drawing(*c_.light_path, flow_.width() / 0.66), 0.66);
    }

    void bars()
    {
        if (c_.wavelengths.empty()) return;
        drawing::BarChart chart;
        chart.name = "Attenuation";
        chart.number = [this](double value, int decimals) { return locale_.number(value, decimals); };
        bool band = false;
        bool interval = false;
        for (CertifiedWavelength const& w : c_.wavelengths) {
            drawing::BarPanel panel{wavelength_text(w.wavelength), w.limit.total.value(), {}};
            for (std::size_t i = 0; i < c_.positions.size() && i < w.readings.size(); ++i) {
                CertifiedReading const& reading = w.readings[i];
                drawing::Bar bar;
                bar.position = c_.positions[i];
                bar.standing = standing_of(reading.state);
                if (reading.attenuation) bar.value = reading.attenuation->value();
                if (bar.value && reading.standard_uncertainty) {
                    double const u = w.coverage_k.value_or(2) * *reading.standard_uncertainty;
                    bar.low = *bar.value - u;
                    bar.high = *bar.value + u;
                    interval = true;
                }
                bar.band_low = reading.expected_low;
                bar.band_high = reading.expected_high;
                band = band || (reading.expected_low && reading.expected_high);
                panel.bars.push_back(bar);
            }
            chart.panels.push_back(std::move(panel));
        }
        double const height = c_.wavelengths.size() > 1 ? 96 : 92;
        flow_.heading("Attenuation of each fibre against its limit", {}, height * 0.8);
        std::string caption;
        if (interval)
            caption += fmt::format("Whiskers: expanded uncertainty, k = {}. ",
                                   locale_.number(c_.wavelengths[0].coverage_k.value_or(2), 2));
        if (band) caption += "Pale band: where 95 of 100 healthy fibres of a link like this read.";
        auto const drawn = [&](std::size_t i, double width) {
            drawing::BarChart one = chart;
            one.panels = {chart.panels[i]};
            return drawing::bar_drawing(one, width / 0.8, height);
        };
        if (chart.panels.size() == 2 && c_.positions.size() <= 16) {
            double const half = (flow_.width() - 14) / 2;
            drawing::Scene pair;
            pair.width = flow_.width() / 0.8;
            for (std::size_t i = 0; i < 2; ++i) {
                drawing::Scene const one = drawn(i, half);
                pair.place(one, {i == 0 ? 0.0 : (half + 14) / 0.8, 0});
                pair.height = std::max(pair.height, one.height);
            }
            flow_.figure(pair, 0.8, caption);
            return;
        }
        // One panel at a time, so that a page may turn between wavelengths.
        for (std::size_t i = 0; i < chart.panels.size(); ++i) {
            flow_.figure(drawn(i, flow_.width()), 0.8, i + 1 == chart.panels.size() ? caption : "");
        }
    }

    /// Where the light of `position` arrives: "12", "dark", and what was expected in brackets where it
    /// differs.
    std::string far_text(int position) const
    {
        if (!c_.polarity || c_.polarity->panels.empty()) return {};
        auto const at = [&](drawing::PolarityPanel const& panel) -> std::string {
            for (drawing::Thread const& thread : panel.threads) {
                if (thread.near == position) return thread.far ? fmt::format("{}", *thread.far) : "dark";
            }
            return "–";
        };
        std::string const expected = at(c_.polarity->panels.front());
        std::string const measured = at(c_.polarity->panels.back());
        return measured == expected ? measured : measured + " (" + expected + ")";
    }

    std::string span_text(CertifiedWavelength const& w) const
    {
        std::string text = fmt::format("{} in dB: limit {}{}", wavelength_text(w.wavelength),
                                       locale_.decibel(w.limit.total), w.limit.rests_on_memory ? " †" : "");
        std::optional<double> least, largest;
        for (CertifiedReading const& reading : w.readings) {
            if (!reading.standard_uncertainty) continue;
            least = std::min(least.value_or(*reading.standard_uncertainty), *reading.standard_uncertainty);
            largest = std::max(largest.value_or(0), *reading.standard_uncertainty);
        }
        if (largest) {
            text += fmt::format(", u {}{}", *least < *largest ? "up to " : "", locale_.number(*largest, 3));
        }
        return w.launch.empty() ? text : text + ", " + w.launch;
    }

    /// Two wavelengths side by side; a third begins a table of its own.
    void readings()
    {
        for (std::size_t first = 0; first < c_.wavelengths.size(); first += 2) {
            readings_of(first, std::min(first + 2, c_.wavelengths.size()));
        }
    }

    void readings_of(std::size_t first, std::size_t last)
    {
        bool both = false;
        bool judged = false;
        for (std::size_t w = first; w < last; ++w) {
            for (CertifiedReading const& reading : c_.wavelengths[w].readings) {
                both = both || (reading.a_to_b && reading.b_to_a);
                judged = judged || reading.conformity;
            }
        }
        flow_.space(6);
        FlowTable table;
        table.least_height = 10.6;
        flow_.need(static_cast<double>(c_.positions.size()) * table.least_height + 42);
        table.size = last - first > 1 && both ? 7 : 7.6;
        table.columns = {{"at A", 0.8}, {"at B", 1.05}};
        table.over = {{2, "Position"}};
        for (std::size_t w = first; w < last; ++w) {
            std::size_t const before = table.columns.size();
            if (both) {
                table.columns.push_back({"A to B", 0.85, Anchor::end});
                table.columns.push_back({"B to A", 0.85, Anchor::end});
            }
            table.columns.push_back({both ? "Judged" : "Loss", 0.9, Anchor::end});
            table.columns.push_back({"Margin", 0.95, Anchor::end});
            if (judged) table.columns.push_back({"p_c", 1.3, Anchor::end});
            table.columns.push_back({"Verdict", 1.7});
            table.over.push_back({table.columns.size() - before, span_text(c_.wavelengths[w])});
        }
        for (std::size_t i = 0; i < c_.positions.size(); ++i) {
            TableCell position{fmt::format("{}", c_.positions[i])};
            position.fibre = c_.positions[i];
            std::vector<TableCell> row{position, {far_text(c_.positions[i])}};
            for (std::size_t w = first; w < last; ++w) {
                std::vector<CertifiedReading> const& all = c_.wavelengths[w].readings;
                CertifiedReading const reading = i < all.size() ? all[i] : CertifiedReading{};
                Standing const standing = standing_of(reading.state);
                bool const fails = standing == Standing::fail || standing == Standing::marginal_fail;
                Face const face = fails ? Face::bold : Face::regular;
                if (both) {
                    row.push_back({locale_.decibel(reading.a_to_b), Token::quiet});
                    row.push_back({locale_.decibel(reading.b_to_a), Token::quiet});
                }
                row.push_back({locale_.decibel(reading.attenuation), Token::ink, Face::bold});
                row.push_back({locale_.decibel(reading.margin), fails ? Token::fail : Token::ink, face});
                if (judged) row.push_back({reading.conformity ? locale_.percent(*reading.conformity) : "–"});
                TableCell verdict{drawing::word_of(standing), token_of(standing), face};
                verdict.sign = standing;
                row.push_back(verdict);
            }
            table.rows.push_back(std::move(row));
        }
        flow_.table(table);
    }

    void statement(std::string const& text, Standing sign)
    {
        if (text.empty()) return;
        auto const lines = drawing::wrapped(text, flow_.width() - 18, 9, Face::bold);
        flow_.need(static_cast<double>(lines.size()) * 12 + 4);
        double y = flow_.y() + 11;
        flow_.canvas().place(drawing::sign_drawing(sign, 11), {flow_.left(), y - 9.4});
        for (std::string const& line : lines) {
            flow_.canvas().add(label({flow_.left() + 17, y}, line, 9, Token::ink, Anchor::start, Face::bold));
            y += 12;
        }
        flow_.move_to(y - 4);
    }

    void polarity_and_length()
    {
        if (!c_.polarity_verdict.empty() || c_.polarity) {
            flow_.heading("Polarity and length", {}, c_.polarity ? 150 : 30);
            statement(c_.polarity_verdict.empty()
                          ? ""
                          : fmt::format("{}: {}", drawing::word_of(c_.polarity_sign), c_.polarity_verdict),
                      c_.polarity_sign);
            if (c_.polarity) {
                flow_.space(6);
                flow_.figure(drawing::polarity_drawing(*c_.polarity, flow_.width() / 0.62), 0.62);
            }
        }
        if (!c_.length_verdict.empty() || c_.measured_length) {
            if (c_.polarity_verdict.empty() && !c_.polarity) flow_.heading("Length", {}, 20);
            std::string const text = !c_.length_verdict.empty()
                                         ? c_.length_verdict
                                         : locale_.length(*c_.measured_length) + " measured";
            statement(fmt::format("{}: {}", drawing::word_of(c_.length_sign), text), c_.length_sign);
        }
    }

    void applications()
    {
        if (c_.applications.empty()) return;
        flow_.heading("Applications", {}, 40);
        FlowTable table;
        table.columns = {{"Application", 1.4}, {"Verdict", 1.2}, {"Reason", 4}};
        for (CertifiedApplication const& application : c_.applications) {
            TableCell verdict{application.verdict, token_of(application.sign), Face::bold};
            verdict.sign = application.sign;
            table.rows.push_back({{application.name, Token::ink, Face::bold}, verdict, {application.reason}});
        }
        flow_.table(table);
    }

    void limits()
    {
        bool any = false;
        for (CertifiedWavelength const& w : c_.wavelengths) any = any || !w.limit.lines.empty();
        if (!any) return;
        flow_.heading("How the limits are made up", {}, 60);
        FlowTable table;
        table.size = 7.2;
        table.least_height = 10.6;
        table.columns = {{"", 0.95},
                         {"Contribution", 3.5},
                         {"Count", 1.1, Anchor::end},
                         {"Each", 1.2, Anchor::end},
                         {"dB", 0.8, Anchor::end},
                         {"", 0.2},
                         {"Source", 3.1},
                         {"Basis", 1.35}};
        for (CertifiedWavelength const& w : c_.wavelengths) {
            bool first = true;
            for (loss::LimitLine const& line : w.limit.lines) {
                bool const memory = line.basis == facts::Basis::memory;
                bool const cable = line.unit == "dB/km";
                table.rows.push_back({{first ? wavelength_text(w.wavelength) : ""},
                                      {line.what + (memory ? "\u00a0†" : "")},
                                      {cable ? cable_text(line.count) : locale_.number(line.count, 0)},
                                      {fmt::format("{} {}", locale_.number(line.each, 2), line.unit)},
                                      {locale_.number(line.loss.value(), 3)},
                                      {""},
                                      {line.source.text(), Token::quiet},
                                      {memory ? "from memory" : facts::name_of(line.basis)}});
                first = false;
            }
            table.rows.push_back({{""},
                                  {"Limit", Token::ink, Face::bold},
                                  {""},
                                  {""},
                                  {locale_.number(w.limit.total.value(), 3), Token::ink, Face::bold},
                                  {""},
                                  {w.limit.rests_on_memory ? "rests on a value from memory †" : ""},
                                  {""}});
        }
        flow_.table(table);
    }

    void earlier()
    {
        if (c_.earlier.empty()) return;
        flow_.heading("Earlier tests of this link", {}, 30);
        FlowTable table;
        table.columns = {{"Taken", 2}, {"By", 1.3}, {"Verdict", 1.1}, {"Worst", 3}};
        for (EarlierTest const& test : c_.earlier) {
            Standing const standing = standing_of(test.state);
            TableCell verdict{drawing::word_of(standing), token_of(standing)};
            verdict.sign = standing;
            table.rows.push_back({{locale_.date_time(test.taken)}, {test.by}, verdict, {test.worst}});
        }
        flow_.table(table);
    }

    Flow& flow_;
    LinkCertificate const& c_;
    Locale const& locale_;
};

struct ContentsEntry
{
    std::string link;
    Standing standing = Standing::open;
};

} // namespace

Result<Written> write_certificate(CertificateFile const& file, Setting const& setting,
                                  drawing::ByteSink const& sink)
{
    if (file.links == 0) return Error{Errc::usage, "A certificate needs at least one link."};
    std::vector<ContentsEntry> entries(file.links);
    bool const many = file.links > 1;
    std::string const kind = many ? "Certificates" : "Certificate";
    std::string const of_zone = file.zone.empty() ? kind : fmt::format("{}, {}", kind, file.zone);
    drawing::DocumentFacts facts;
    facts.author = file.job.contractor;
    facts.subject = file.job.name;
    facts.created = setting.made;
    if (many) {
        facts.title = fmt::format("{}: {}", file.job.name, of_zone);
    } else {
        TRY_ASSIGN(LinkCertificate const only, file.link(0));
        entries[0] = {only.link.id, standing_of(only.state)};
        facts.title = fmt::format("{}: certificate {}", file.job.name, only.link.id);
    }

    auto const write = [&](Flow& flow) -> Outcome {
        if (many) {
            flow.set_right(of_zone);
            flow.title(file.zone.empty() ? "Certificates" : file.zone, "contents");
            flow.said({{"Job", file.job.name},
                       {"Site", file.job.site},
                       {"Customer", file.job.customer},
                       {"Contractor", file.job.contractor}},
                      2);
            flow.heading(
                fmt::format("Contents: {} links", setting.locale.whole(static_cast<long long>(file.links))),
                {}, 60);
            for (std::size_t i = 0; i < file.links; ++i)
                flow.contents_line(entries[i].link, destination_of(i), entries[i].standing, 1);
            if (!file.sources.empty()) flow.contents_line("Sources", "sources", std::nullopt, 0);
        }
        for (std::size_t i = 0; i < file.links; ++i) {
            TRY_ASSIGN(LinkCertificate const certificate, file.link(i));
            entries[i] = {certificate.link.id, standing_of(certificate.state)};
            if (i > 0 || many) flow.new_page(); // the text at the right belongs to the page just opened
            flow.set_right(fmt::format("{} {}", many ? of_zone + ":" : "Certificate",
                                       drawing::fitted(certificate.link.id, 150, 7.4)));
            TRY(LinkPages(flow, certificate, setting.locale).write(destination_of(i)));
        }
        if (!file.sources.empty()) {
            if (many) {
                flow.new_page();
                flow.set_right(of_zone);
            }
            sources_chapter(flow, file.sources);
        }
        return {};
    };
    auto const outline = [&](drawing::PdfDocument& document, Bearings const&) {
        if (!many) return;
        document.add_outline({"Contents", "contents", 0});
        for (std::size_t i = 0; i < file.links; ++i)
            document.add_outline({entries[i].link, destination_of(i), 0});
        if (!file.sources.empty()) document.add_outline({"Sources", "sources", 0});
    };
    return two_walks(setting, facts, {file.job.name, of_zone, foot_text(setting)}, sink, write, outline);
}

} // namespace guidepin::report
