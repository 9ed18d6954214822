// SPDX-License-Identifier: Apache-2.0
// One link: everything known about it, and the forms to add readings, notes and photos.
#include "record/derived_query.hpp"
#include "web/frame.hpp"
#include "web/pages/finding_list.hpp"
#include "web/pages/link_list.hpp"
#include "web/pages/link_parts.hpp"
#include "web/pages/pages.hpp"
#include "web/pages/photo.hpp"

#include "base/text.hpp"
#include "drawing/svg.hpp"
#include "job/assess/reference_choice.hpp"
#include "job/paper/certificate_of.hpp"
#include "job/paper/row_picture.hpp"

#include <algorithm>
#include <cmath>
#include <set>

#include <fmt/format.h>

namespace guidepin::web {

namespace {

struct Neighbours
{
    std::string previous, next; ///< addresses; empty: there is none
};

/// In the list that the person came from, else in the schedule.
Result<Neighbours> neighbours(Desk& desk, Exchange const& exchange, std::string const& id)
{
    Neighbours beside;
    job::JobState const& state = desk.job().state();
    if (auto const at = parse_integer(exchange.text("at")); at && *at >= 0) {
        LinkFilter const filter = filter_of(desk, exchange);
        std::int64_t const from = std::max<std::int64_t>(0, *at - 1);
        TRY_ASSIGN(record::LinkPage const page, filtered(desk, filter, from, *at == 0 ? 2 : 3));
        auto const here = static_cast<std::size_t>(*at - from);
        if (here < page.rows.size() && page.rows[here].link == id) {
            auto const address = [&](std::size_t i, std::int64_t place) {
                return fmt::format("{}&at={}{}{}", link_address(page.rows[i].link), place,
                                   filter.address.empty() ? "" : "&", filter.address);
            };
            if (here > 0) beside.previous = address(here - 1, *at - 1);
            if (here + 1 < page.rows.size()) beside.next = address(here + 1, *at + 1);
            return beside;
        }
    }
    auto const found = state.link_index.find(id);
    if (found == state.link_index.end()) return beside;
    if (found->second > 0) beside.previous = link_address(state.links[found->second - 1].id);
    if (found->second + 1 < state.links.size()) beside.next = link_address(state.links[found->second + 1].id);
    return beside;
}

Html heading(Desk const& desk, std::string const& id, std::string_view zone, std::string_view state,
             Neighbours const& beside)
{
    Html turn;
    if (!beside.previous.empty())
        turn += html(R"(<a class="button quiet" rel="prev" data-key="p" href="{}">Previous</a>)",
                     beside.previous);
    if (!beside.next.empty())
        turn += html(R"(<a class="button quiet" rel="next" data-key="n" href="{}">Next</a>)", beside.next);
    (void)desk;
    return html(R"(<div class="heading"><h1><span class="id">{}</span> {}</h1>)"
                R"(<p class="quiet">{}</p><nav class="turn" aria-label="Neighbouring )"
                R"(links">{}</nav></div>)"
                "\n",
                id, state_mark(state), zone, turn);
}

/// Findings about this link: the cause, and what to do first.
Html link_findings(Desk& desk, std::string const& id)
{
    constexpr std::size_t most = 3;
    FindingsNow const now = findings_now(desk);
    Html list;
    std::size_t found = 0;
    for (std::size_t i = 0; i < now.list.size(); ++i) {
        job::JobFinding const& entry = now.list[i];
        if (std::find(entry.evidence.links.begin(), entry.evidence.links.end(), id) ==
            entry.evidence.links.end())
            continue;
        if (++found > most) continue;
        cause::Finding const& finding = entry.finding;
        std::string where;
        if (finding.reference != cause::none)
            where = ", " + desk.job().state().readings.references.text(finding.reference);
        if (!finding.positions.empty() && finding.positions.size() <= 4)
            where += fmt::format(", position{} {}", finding.positions.size() > 1 ? "s" : "",
                                 fmt::format("{}", fmt::join(finding.positions, ", ")));
        std::string const size = finding.size
                                     ? fmt::format("{} dB, ", desk.locale().number(finding.size->value(), 2))
                                     : std::string{};
        Html const first =
            entry.is_open()
                ? html(R"(<p class="first"><span class="quiet">Do first:</span> {}</p>)", finding.action)
                : html(R"(<p class="notice good">Acknowledged by {}: {}</p>)", entry.acknowledged->person,
                       entry.acknowledged->reason);
        list += html(R"(<article class="finding {}"><p class="what"><a href="{}">{}</a>{} )"
                     R"(<span class="quiet">{}{} %</span></p>{}<p>{}</p></article>)"
                     "\n",
                     !entry.is_open()                            ? "seen"
                     : now.shown(entry).urgency == "must settle" ? "must"
                                                                 : "should",
                     finding_address(now, i), cause::name_of(finding.cause), where, size,
                     fixed_text(100 * std::min(finding.probability, 0.994), 0), first, finding.evidence);
    }
    if (list.empty()) return {};
    if (found > most)
        list += html(R"(<p class="quiet"><a href="/findings">{} more findings about this link</a></p>)"
                     "\n",
                     found - most);
    return html(R"(<section class="why"><h2>Why</h2>)"
                "\n{}</section>\n",
                list);
}

Html earlier_tests(Desk const& desk, std::vector<record::DerivedTest> const& tests)
{
    if (tests.empty()) return {};
    report::Locale const locale = desk.locale();
    Html rows;
    for (auto test = tests.rbegin(); test != tests.rend(); ++test) {
        rows += html(R"(<tr><th scope="row">{}</th><td data-label="By">{}</td>)"
                     R"(<td data-label="Reference">{}</td><td data-label="This test">{}</td>)"
                     R"(<td class="number" data-label="Margin, dB">{}</td>)"
                     R"(<td data-label="Now">{}</td></tr>)"
                     "\n",
                     time_mark(desk, {test->tested_at_ms}), test->operator_name, test->reference,
                     state_mark(test->state),
                     test->worst_margin_db ? locale.number(*test->worst_margin_db, 2) : std::string{"–"},
                     test->counts ? std::string{"in use"} : std::string{"replaced"});
    }
    return html(R"(<section class="scroll"><h2>Every test of this link</h2><table class="cards">)"
                R"(<thead><tr><th scope="col">When</th><th scope="col">By</th>)"
                R"(<th scope="col">Reference</th><th scope="col">This test</th>)"
                R"(<th scope="col" class="number">Margin, dB</th>)"
                R"(<th scope="col">Now</th></tr></thead><tbody>)"
                "\n{}</tbody></table></section>\n",
                rows);
}

Html notes_list(Desk const& desk, std::string const& id)
{
    Html list;
    for (job::Note const& note : desk.job().state().notes) {
        if (note.subject != "link" || note.name != id) continue;
        Html picture;
        if (!note.photo_type.empty())
            picture = html(R"(<a href="/photo?note={}"><img src="/photo?note={}" alt="Photo of {}, by {}" )"
                           R"(loading="lazy"></a>)",
                           note.hash, note.hash, id, note.person);
        list += html(R"(<li><p>{}</p>{}<p class="quiet">{}, {}</p></li>)"
                     "\n",
                     note.text, picture, note.person, time_mark(desk, note.at));
    }
    return list.empty() ? html(R"(<p class="quiet">No note yet.</p>)"
                               "\n")
                        : html(R"(<ul class="notes">{}</ul>)"
                               "\n",
                               list);
}

Html note_form(Exchange const& exchange, std::string const& id)
{
    return html(R"(<details class="do" id="note"><summary>Write a note or take a photo</summary>)"
                "\n"
                R"({}<input type="hidden" name="id" value="{}"><label>Note)"
                R"(<textarea name="text" rows="3" maxlength="2000"></textarea></label>)"
                "\n"
                R"(<label>Photo<input type="file" accept="image/jpeg,image/png,image/webp" )"
                R"(capture="environment" data-photo="photo"></label>)"
                "\n<button>Save the note</button>{}</details>\n",
                kept_form(exchange, "/link/note", "Note on " + id), id, end_form());
}

/// The references that suit the link, the best first, each with its condition.
Html reference_choice(Desk const& desk, std::vector<job::ReferenceOffer> const& offers)
{
    Html options;
    for (job::ReferenceOffer const& offer : offers) {
        bool const good = offer.now.condition == job::ReferenceCondition::in_force;
        options += option(offer.id.text(),
                          fmt::format("{}, {}, taken {}", offer.id, job::name_of(offer.now.condition),
                                      date_time(desk, offer.now.taken)),
                          &offer == &offers.front() && good);
    }
    return html(R"(<label>Reference<select name="reference">{}</select></label>)"
                "\n",
                options);
}

Html reference_notice(std::vector<job::ReferenceOffer> const& offers)
{
    if (offers.front().now.condition == job::ReferenceCondition::in_force) return {};
    return notice("hint",
                  fmt::format("No reference for this link is in force: {} {}. You can still enter readings, "
                              "but they count only if you measured them while their reference was in force.",
                              offers.front().id, offers.front().now.needs));
}

Html reading_form(Desk& desk, Exchange const& exchange, plant::LinkSpec const& link,
                  std::vector<int> const& wavelengths, bool tested,
                  std::vector<job::ReferenceOffer> const& offers)
{
    Html choices, fields;
    for (int const nm : wavelengths) choices += html(R"(<option value="{}">{} nm</option>)", nm, nm);
    for (int p = 1; p <= link.family.positions(); ++p) {
        if (!link.fibres.test(static_cast<std::size_t>(p - 1))) continue;
        fields += html(R"(<div class="pair"><span class="position" aria-hidden="true">{}</span><label>)"
                       R"(<span class="sr">Position {}, </span>dB<input name="loss-{}" )"
                       R"(inputmode="decimal" autocomplete="off" size="6"></label><label>)"
                       R"(<span class="sr">Position {}, </span>arrives at)"
                       R"(<input name="far-{}" inputmode="numeric" autocomplete="off" )"
                       R"(size="3"></label></div>)"
                       "\n",
                       p, p, p, p, p);
    }
    return html(R"(<details class="do" id="enter"{}><summary>{}</summary>)"
                "\n"
                R"({}<input type="hidden" name="id" value="{}">)"
                "\n"
                R"({}<div class="filters">{}<label>Wavelength)"
                R"(<select name="wavelength">{}</select></label>)"
                "\n"
                R"(<label>Launched from<select name="end"><option value="a">end A, {}</option>)"
                R"(<option value="b">end B, {}</option></select></label>)"
                "\n"
                R"(<label>Length, m<input name="length" inputmode="decimal" autocomplete="off" )"
                R"(size="7"></label></div>)"
                "\n"
                R"(<fieldset class="positions"><legend>Attenuation per position in dB. Leave a )"
                "position empty if you did not measure it. “Arrives at 0” means dark.</legend>\n"
                "{}</fieldset>\n"
                "<button>Save the readings</button>{}</details>\n",
                tested ? Html{} : html(" open"), tested ? "Enter readings of a retest" : "Enter readings",
                kept_form(exchange, "/link/readings", "Readings of " + link.id), link.id,
                reference_notice(offers), reference_choice(desk, offers), choices, link.a.name, link.b.name,
                fields, end_form());
}

std::vector<int> wavelengths_of(job::JobState const& state, plant::LinkSpec const& link)
{
    std::vector<int> list;
    if (auto const limits = job::limits_of(state, link)) {
        for (Nanometres const nm : limits->wavelengths) list.push_back(nm.value());
    }
    return list;
}

} // namespace

Result<Reply> link_page(Desk& desk, Exchange const& exchange)
{
    std::string const id = exchange.text("id");
    job::JobState const& state = desk.job().state();
    TRY_ASSIGN(auto const* const rows, desk.job().rows());
    record::DerivedLink const* const row = record::find_link(*rows, id);
    if (!row) {
        std::vector<std::string> known;
        for (plant::LinkSpec const& link : state.links) known.push_back(link.id);
        return Error{Errc::not_found,
                     fmt::format("The job has no link \"{}\"{}", id, did_you_mean(id, known))};
    }
    TRY_ASSIGN(Neighbours const beside, neighbours(desk, exchange, id));
    auto const tests = record::tests_of(*rows, id);
    Html seen = heading(desk, id, row->zone, row->state, beside);
    auto const scheduled = state.link_index.find(id);
    if (scheduled == state.link_index.end()) {
        seen += notice(
            "hint",
            "This link was measured but is not in the schedule. It stays open until a schedule names it.");
    } else {
        TRY_ASSIGN(auto const* const assessment, desk.job().assessment());
        TRY_ASSIGN(report::LinkCertificate const certificate,
                   job::certificate_of(state, *assessment, scheduled->second));
        seen += html(R"(<p class="sentence {}">{}</p>)"
                     "\n",
                     row->state, with_times(desk, certificate.verdict_reason));
        Html actions;
        if (exchange.may(Access::enter) && !state.references.empty())
            actions += html(R"(<a class="button quiet" href="#enter">{}</a> )",
                            tests.empty() ? "Enter readings" : "Enter a retest");
        seen += html(R"(<p class="actions">{}<a class="button quiet" href="#note">Note or photo</a></p>)"
                     "\n",
                     actions);
        if (!row->row.empty()) {
            drawing::Row const picture = job::row_of(id, state.links[scheduled->second].family, row->row);
            seen += drawn_both(drawing::row_drawing(picture, drawing::RowSize::normal),
                               drawing::row_drawing(picture, drawing::RowSize::large));
        }
        seen += link_findings(desk, id);
        seen += link_facts(desk, certificate, *row) + link_light(certificate) +
                link_losses(desk, certificate) + link_polarity(certificate) + link_applications(certificate) +
                link_evidence(certificate);
    }
    seen += earlier_tests(desk, tests);
    seen += html("<section><h2>Notes</h2>{}</section>\n", notes_list(desk, id));
    Html doing;
    if (exchange.may(Access::enter) && scheduled != state.link_index.end()) {
        plant::LinkSpec const& link = state.links[scheduled->second];
        TRY_ASSIGN(auto const* const assessment, desk.job().assessment());
        auto const offers = job::references_for(state, *assessment, scheduled->second, desk.now());
        if (state.references.empty()) {
            doing += notice("hint", "Take a reference before you enter readings.");
        } else if (offers.empty()) {
            doing +=
                notice("hint", fmt::format("No reference suits this link: {}. Take a reference that does.",
                                           *job::why_unsuited(state, *assessment, state.references.back(),
                                                              scheduled->second)));
        } else {
            doing += reading_form(desk, exchange, link, wavelengths_of(state, link), !tests.empty(), offers);
        }
    }
    doing += note_form(exchange, id);
    std::string address = "/link?id=" + url_escaped(id);
    if (exchange.has("at")) address += "&at=" + url_escaped(exchange.text("at"));
    LinkFilter const filter = filter_of(desk, exchange);
    if (!filter.address.empty()) address += "&" + filter.address;
    return framed(desk, exchange, id,
                  html(R"(<div class="one-link" data-swipe="yes">{})"
                       R"(<section class="doing">{}</section></div>)"
                       "\n",
                       live("link", address, seen), doing));
}

Result<Reply> enter_readings(Desk& desk, Exchange const& exchange)
{
    job::JobState const& state = desk.job().state();
    job::TypedReadings typed;
    typed.link = exchange.text("id");
    typed.key = exchange.text("key");
    typed.reference = verdict::ReferenceId(exchange.text("reference"));
    typed.person = exchange.person;
    typed.from_end_b = exchange.text("end") == "b";
    auto const found = state.link_index.find(typed.link);
    if (found == state.link_index.end())
        return Error{Errc::not_found, fmt::format("The schedule has no link \"{}\"", typed.link)};
    auto const nm = parse_integer(exchange.text("wavelength"));
    if (!nm || *nm < 600 || *nm > 1700)
        return Error{Errc::invalid_input, fmt::format("Wavelength \"{}\" is not from 600 to 1700 nm",
                                                      exchange.text("wavelength"))};
    typed.wavelength_nm = static_cast<int>(*nm);
    if (exchange.has("length")) {
        typed.length_m = typed_number(exchange.text("length"));
        if (!typed.length_m)
            return Error{Errc::invalid_input,
                         fmt::format("Length \"{}\" is not a number", exchange.text("length"))};
    }
    TRY_ASSIGN(typed.taken, typed_at(desk, exchange));
    for (int p = 1; p <= plant::max_positions; ++p) {
        std::string const loss = exchange.text(fmt::format("loss-{}", p));
        if (trimmed(loss).empty()) continue;
        auto const value = typed_number(loss);
        if (!value)
            return Error{Errc::invalid_input,
                         fmt::format("Position {}: \"{}\" is not a number; write 0.35", p, loss)};
        job::TypedReading reading;
        reading.position = p;
        reading.attenuation_db = *value;
        std::string const far = exchange.text(fmt::format("far-{}", p));
        if (!trimmed(far).empty()) {
            auto const place = parse_integer(trimmed(far));
            if (!place || *place < 0 || *place > plant::max_positions)
                return Error{
                    Errc::invalid_input,
                    fmt::format("Position {} arrives at \"{}\": a position from 1, or 0 for dark", p, far)};
            reading.far_position = static_cast<int>(*place);
        }
        typed.rows.push_back(reading);
    }
    TRY(desk.job().enter_readings(typed));
    return Reply::see(link_address(typed.link));
}

Result<Reply> add_note(Desk& desk, Exchange const& exchange)
{
    job::Note note;
    note.subject = "link";
    note.name = exchange.text("id");
    note.text = exchange.text("text");
    note.key = exchange.text("key");
    TRY_ASSIGN(auto const* const rows, desk.job().rows());
    if (!record::find_link(*rows, note.name))
        return Error{Errc::not_found, fmt::format("The job has no link \"{}\"", note.name)};
    if (exchange.has("photo")) {
        // "data:image/jpeg;base64,…", as the browser made it smaller.
        TRY_ASSIGN(auto const picture, picture_of(exchange.text("photo")));
        note.photo_type = picture.type;
        note.photo = picture.base64;
    }
    TRY(desk.job().add_note(note));
    return Reply::see(link_address(note.name));
}

Result<Reply> photo(Desk& desk, Exchange const& exchange)
{
    TRY_ASSIGN(job::Note const note, desk.job().note_with_photo(exchange.text("note")));
    Reply reply;
    reply.type = note.photo_type;
    TRY_ASSIGN(reply.body, bytes_of(note.photo));
    reply.headers.emplace_back("Content-Security-Policy", "default-src 'none'; sandbox");
    return reply;
}

} // namespace guidepin::web
