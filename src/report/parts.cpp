// SPDX-License-Identifier: Apache-2.0
#include "report/parts.hpp"

#include "drawing/font_metrics.hpp"
#include "drawing/shapes.hpp"
#include "report/qr.hpp"

#include <fmt/format.h>

namespace guidepin::report {

using drawing::Anchor;
using drawing::Face;
using drawing::label;
using drawing::Token;

Result<double> place_qr(Flow& flow, std::string const& hash, double top, double size)
{
    if (hash.empty()) return 0.0;
    TRY_ASSIGN(drawing::Scene const code, qr_drawing(qr_text(hash), size));
    double const x = flow.left() + flow.width() - size;
    flow.canvas().place(code, {x, top});
    // In print too: sixteen digits a line can be read out and compared.
    for (std::size_t i = 0; i * 16 < hash.size() && i < 4; ++i) {
        flow.canvas().add(label({x + size / 2, top + size + 5 + static_cast<double>(i) * 7},
                                hash.substr(i * 16, 16), 5.6, Token::quiet, Anchor::middle, Face::mono));
    }
    return size;
}

void unconfirmed_chapter(Flow& flow, std::vector<Unconfirmed> const& values)
{
    if (values.empty()) return;
    flow.heading("† Rests on unconfirmed values", "unconfirmed", 50);
    flow.paragraph(
        "Values marked † were recalled, not confirmed against a printed copy. Each can be overridden.");
    FlowTable table;
    table.columns = {
        {"Value", 2.4}, {"", 0.9, Anchor::end}, {"Source", 2}, {"Decides", 1.8}, {"To override", 2.2}};
    for (Unconfirmed const& value : values)
        table.rows.push_back({{value.quantity},
                              {value.value, Token::ink, Face::bold},
                              {value.source},
                              {value.decides},
                              {value.override_by}});
    flow.table(table);
}

void sources_chapter(Flow& flow, std::vector<Cited> const& sources)
{
    if (sources.empty()) return;
    flow.heading("Sources", "sources", 40);
    FlowTable table;
    table.columns = {{"Document, edition, clause", 2.6}, {"Basis", 0.9}, {"Used for", 2.5}};
    for (Cited const& cited : sources)
        table.rows.push_back(
            {{cited.source}, {cited.basis == "memory" ? "from memory †" : cited.basis}, {cited.used_for}});
    flow.table(table);
}

void sign_off(Flow& flow)
{
    constexpr double size = 7;
    constexpr double gap = 16;
    flow.need(80);
    flow.heading("Signatures", {}, 46);
    flow.paragraph(
        "Acceptance is the decision of the qualified person who signs, not of the program that made this "
        "document.",
        8.2, Token::ink, Face::italic);
    double const column = (flow.width() - gap) / 2;
    double const y = flow.y() + 26;
    double x = flow.left();
    for (char const* const who : {"Tested by", "Accepted by"}) {
        flow.canvas().add(drawing::Line{{x, y}, {x + column, y}, drawing::stroke(Token::ink, 0.6)});
        flow.canvas().add(
            label({x, y + 8.5}, fmt::format("{}: name, signature, place and date", who), size, Token::quiet));
        x += column + gap;
    }
    flow.move_to(y + 10);
}

void legend(Flow& flow)
{
    using drawing::Standing;
    constexpr double size = 7.4;
    flow.need(16);
    double x = flow.left();
    double const baseline = flow.y() + 10;
    for (Standing const standing : {Standing::pass, Standing::marginal_pass, Standing::marginal_fail,
                                    Standing::fail, Standing::held, Standing::open}) {
        flow.canvas().place(drawing::sign_drawing(standing, 9), {x, baseline - 7.6});
        flow.canvas().add(label({x + 12, baseline}, drawing::word_of(standing), size, Token::quiet));
        x += 12 + drawing::text_width(drawing::word_of(standing), size) + 14;
    }
    flow.canvas().add(label({flow.left() + flow.width(), baseline}, "level = attenuation / limit", size,
                            Token::quiet, Anchor::end));
    flow.move_to(baseline + 6);
}

} // namespace guidepin::report
