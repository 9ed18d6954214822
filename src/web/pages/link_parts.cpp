// SPDX-License-Identifier: Apache-2.0
#include "web/pages/link_parts.hpp"

#include "base/text.hpp"
#include "drawing/charts.hpp"
#include "job/sheet/locale.hpp"
#include "report/standing.hpp"
#include "web/frame.hpp"

#include <algorithm>
#include <array>

#include <fmt/format.h>

namespace guidepin::web {

namespace {

drawing::BarChart chart_of(report::Locale const& locale, report::LinkCertificate const& certificate,
                           report::CertifiedWavelength const& wavelength)
{
    drawing::BarChart chart;
    chart.name = fmt::format("Attenuation at {} nm", wavelength.wavelength.value());
    chart.number = [locale](double value, int decimals) { return locale.number(value, decimals); };
    drawing::BarPanel panel;
    panel.label = fmt::format("{} nm", wavelength.wavelength.value());
    panel.limit = wavelength.limit.total.value();
    for (std::size_t i = 0; i < wavelength.readings.size(); ++i) {
        report::CertifiedReading const& reading = wavelength.readings[i];
        drawing::Bar bar;
        bar.position = certificate.positions[i];
        bar.standing = report::standing_of(reading.state);
        if (reading.attenuation) bar.value = reading.attenuation->value();
        if (reading.attenuation && reading.standard_uncertainty) {
            double const half = wavelength.coverage_k.value_or(2) * *reading.standard_uncertainty;
            bar.low = *bar.value - half;
            bar.high = *bar.value + half;
        }
        bar.band_low = reading.expected_low;
        bar.band_high = reading.expected_high;
        panel.bars.push_back(bar);
    }
    chart.panels.push_back(std::move(panel));
    return chart;
}

Html expected_words(report::Locale const& locale, report::CertifiedWavelength const& wavelength)
{
    for (report::CertifiedReading const& reading : wavelength.readings) {
        if (!reading.expected_low || !reading.expected_high) continue;
        return html(R"(<p class="quiet">Pale band: 95 of 100 healthy fibres of a link like this read )"
                    "{} to {} dB.</p>\n",
                    locale.number(*reading.expected_low, 2), locale.number(*reading.expected_high, 2));
    }
    return {};
}

Html losses_table(report::Locale const& locale, report::LinkCertificate const& certificate,
                  report::CertifiedWavelength const& wavelength)
{
    bool both = false;
    for (auto const& reading : wavelength.readings) both = both || (reading.a_to_b && reading.b_to_a);
    Html rows;
    for (std::size_t i = 0; i < wavelength.readings.size(); ++i) {
        report::CertifiedReading const& reading = wavelength.readings[i];
        Html const directions = both ? html(R"(<td class="number">{}</td><td class="number">{}</td>)",
                                            locale.decibel(reading.a_to_b), locale.decibel(reading.b_to_a))
                                     : Html{};
        rows += html(R"(<tr><th scope="row" class="number">{}</th>{}<td class="number">{}</td>)"
                     R"(<td class="number">{}</td><td class="number">{}</td><td class="number">{}</td>)"
                     "<td>{}</td></tr>\n",
                     certificate.positions[i], directions, locale.decibel(reading.attenuation),
                     locale.decibel(reading.margin),
                     reading.standard_uncertainty ? locale.number(*reading.standard_uncertainty, 3)
                                                  : std::string{"–"},
                     reading.conformity ? locale.percent(*reading.conformity) : std::string{"–"},
                     state_mark(report::standing_of(reading.state)));
    }
    Html const heads = both ? html(R"(<th scope="col" class="number">from A</th>)"
                                   R"(<th scope="col" class="number">from B</th>)")
                            : Html{};
    return html(R"(<div class="scroll"><table class="tight">)"
                R"(<caption class="sr">Attenuation at {} nm</caption><thead><tr>)"
                R"(<th scope="col" class="number">Fibre</th>{})"
                R"(<th scope="col" class="number">dB</th><th scope="col" class="number">Margin</th>)"
                R"(<th scope="col" class="number"><abbr title="standard uncertainty">u</abbr></th>)"
                R"(<th scope="col" class="number"><abbr title="probability of )"
                R"(conformity">p_c</abbr></th><th scope="col">State</th></tr></thead><tbody>)"
                "\n{}</tbody></table></div>\n",
                wavelength.wavelength.value(), heads, rows);
}

Html limit_arithmetic(report::Locale const& locale, loss::Limit const& limit, int nm)
{
    Html rows;
    for (loss::LimitLine const& line : limit.lines) {
        rows +=
            html(R"(<tr><th scope="row">{}</th><td class="number">{}</td>)"
                 R"(<td class="number">{} {}</td><td class="number">{}</td><td>{}{}</td></tr>)"
                 "\n",
                 line.what, number_text(line.count), locale.number(line.each, 2), line.unit,
                 locale.number(line.loss.value(), 3), line.source.text(),
                 line.basis == facts::Basis::memory ? html(" <em>from memory, not confirmed</em>") : Html{});
    }
    rows += html(R"(<tr class="sum"><th scope="row">Limit at {} nm</th><td></td><td></td>)"
                 R"(<td class="number">{}</td><td></td></tr>)"
                 "\n",
                 nm, locale.number(limit.total.value(), 3));
    return html("<details><summary>How the limit of {} dB is computed</summary>"
                R"(<div class="scroll"><table class="tight"><thead><tr><th scope="col">What</th>)"
                R"(<th scope="col" class="number">Count</th>)"
                R"(<th scope="col" class="number">Each</th><th scope="col" class="number">dB</th>)"
                R"(<th scope="col">Source</th></tr></thead><tbody>)"
                "\n{}</tbody></table></div></details>\n",
                locale.number(limit.total.value(), 2), rows);
}

} // namespace

Html link_facts(Desk const& desk, report::LinkCertificate const& certificate, record::DerivedLink const& row)
{
    report::Locale const locale = desk.locale();
    plant::LinkSpec const& link = certificate.link;
    Html facts = fact("Ends", html(R"({} <span class="quiet">to</span> {})", link.a.name, link.b.name));
    facts += fact("Cabling", fmt::format("{}, {}, {} fibres, {}", link.category, plant::words_of(link.family),
                                         row.fibres, link.trunk_type));
    facts += fact("Length", html("{} {}", state_mark(certificate.length_sign), certificate.length_verdict));
    facts +=
        fact("Polarity", html("{} {}", state_mark(certificate.polarity_sign), certificate.polarity_verdict));
    if (certificate.worst_margin && certificate.worst_position)
        facts += fact("Smallest margin",
                      fmt::format("{} dB, fibre {} at {} nm", locale.decibel(certificate.worst_margin),
                                  *certificate.worst_position, certificate.worst_wavelength->value()));
    if (row.conformity)
        facts +=
            fact("Decision",
                 html(R"({}; probability of conformity of the worst fibre <span class="nowrap">{}</span>)",
                      certificate.decision_rule, locale.percent(Probability::clamped(*row.conformity))));
    else
        facts += fact("Decision", certificate.decision_rule);
    facts += fact("Limits", certificate.rule_set);
    return html(R"(<dl class="facts">{}</dl>)"
                "\n",
                facts);
}

Html link_light(report::LinkCertificate const& certificate)
{
    if (!certificate.light_path) return {};
    return html("<section><h2>Line of light</h2>{}</section>\n",
                drawn_both(drawing::light_path_drawing(*certificate.light_path, 340),
                           drawing::light_path_drawing(*certificate.light_path, 1000)));
}

Html link_losses(Desk const& desk, report::LinkCertificate const& certificate)
{
    report::Locale const locale = desk.locale();
    Html parts;
    for (report::CertifiedWavelength const& wavelength : certificate.wavelengths) {
        bool any = false;
        for (auto const& reading : wavelength.readings) any = any || reading.attenuation.has_value();
        int const nm = wavelength.wavelength.value();
        Html inside;
        if (any) {
            inside = html(
                R"(<div class="beside"><div>{}{}</div>{}</div>)"
                "\n",
                drawn_both_grown(drawing::bar_drawing(chart_of(locale, certificate, wavelength), 310, 180),
                                 drawing::bar_drawing(chart_of(locale, certificate, wavelength), 420, 190)),
                expected_words(locale, wavelength), losses_table(locale, certificate, wavelength));
        } else {
            inside = html(R"(<p class="quiet">Not measured at this wavelength.</p>)"
                          "\n");
        }
        parts += html(R"(<h3 class="sr">{} nm</h3>)"
                      "\n{}{}",
                      nm, inside, limit_arithmetic(locale, wavelength.limit, nm));
    }
    return html("<section><h2>Attenuation</h2>{}</section>\n", parts);
}

Html link_polarity(report::LinkCertificate const& certificate)
{
    if (!certificate.polarity) return {};
    return html("<section><h2>Polarity</h2>{}</section>\n",
                drawn_both(drawing::polarity_drawing(*certificate.polarity, 340),
                           drawing::polarity_drawing(*certificate.polarity, 760)));
}

Html link_applications(report::LinkCertificate const& certificate)
{
    if (certificate.applications.empty()) return {};
    Html rows;
    for (report::CertifiedApplication const& application : certificate.applications) {
        rows += html(R"(<tr><th scope="row">{}</th><td data-label="Verdict">)"
                     R"(<span class="state {}">{}</span></td><td data-label="Why">{}</td></tr>)"
                     "\n",
                     application.name,
                     application.sign == drawing::Standing::pass   ? "pass"
                     : application.sign == drawing::Standing::fail ? "fail"
                                                                   : "open",
                     application.verdict, application.reason);
    }
    return html(R"(<section class="scroll"><h2>Supported applications</h2><table class="cards">)"
                R"(<thead><tr><th scope="col">Application</th><th scope="col">Verdict</th>)"
                R"(<th scope="col">Why</th></tr></thead><tbody>)"
                "\n{}</tbody></table></section>\n",
                rows);
}

Html link_evidence(report::LinkCertificate const& certificate)
{
    Html remarks;
    for (std::string const& remark : certificate.remarks) remarks += html("<li>{}</li>\n", remark);
    Html body = remarks.empty() ? Html{} : html("<ul>{}</ul>\n", remarks);
    body += said_list(certificate.reference) + said_list(certificate.measurement);
    for (report::Unconfirmed const& value : certificate.unconfirmed) {
        body += html(R"(<p class="quiet">† {} {} is from memory ({}). It decides {}. )"
                     "The contract's rule set can replace it.</p>\n",
                     value.quantity, value.value, value.source, value.decides);
    }
    return html("<section><h2>Evidence</h2>{}</section>\n", body);
}

} // namespace guidepin::web
