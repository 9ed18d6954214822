// SPDX-License-Identifier: Apache-2.0
// The kit (kit_items.cpp), people and their devices, pairing, and the page "More".
#include "web/frame.hpp"
#include "web/pages/kit_items.hpp"
#include "web/pages/pages.hpp"
#include "web/reach.hpp"

#include "base/text.hpp"
#include "drawing/svg.hpp"
#include "report/qr.hpp"
#include "setup/steps.hpp"

#include <fmt/format.h>

namespace guidepin::web {

namespace {

Html role_options(job::Role chosen)
{
    Html options;
    for (job::Role const role : {job::Role::technician, job::Role::lead, job::Role::reviewer})
        options += role == chosen ? html("<option selected>{}</option>", job::name_of(role))
                                  : html("<option>{}</option>", job::name_of(role));
    return options;
}

Html people(Desk const& desk, Exchange const& exchange)
{
    Html rows;
    for (job::Person const& person : desk.job().state().people) {
        Html code;
        if (exchange.may(Access::lead))
            code = html(R"({}<input type="hidden" name="name" value="{}">)"
                        R"(<button class="quiet">Pair a device of {}</button>{})",
                        form(exchange, "/people/code", "inline"), person.name, person.name, end_form());
        rows += html(R"(<tr><th scope="row">{}</th><td>{}</td><td>{}</td></tr>)"
                     "\n",
                     person.name, job::name_of(person.role), code);
    }
    Html body = rows.empty() ? html(R"(<p class="quiet">No people yet.</p>)"
                                    "\n")
                             : html(R"(<table><thead><tr><th scope="col">Name</th><th scope="col">Role</th>)"
                                    R"(<th scope="col">Device</th></tr></thead><tbody>)"
                                    "\n{}</tbody></table>\n",
                                    rows);
    if (exchange.may(Access::lead))
        body += html(R"(<details class="do"><summary>Add a person, or change a role</summary>{})"
                     R"(<label>Name<input name="name" required maxlength="60" )"
                     R"(autocomplete="off"></label><label>Role<select name="role">{}</select></label>)"
                     R"(<p class="quiet">A technician enters readings; a lead also withdraws imports, )"
                     "adds people, decides about the kit and hands over; a reviewer reads and writes "
                     "notes.</p><button>Save</button>{}</details>\n",
                     form(exchange, "/people"), role_options(job::Role::technician), end_form());
    return body;
}

Html fingerprint_shown(Reach const& reach)
{
    Html lines;
    for (std::string const& line : fingerprint_lines(reach.fingerprint))
        lines += html("<span>{}</span>\n", line);
    if (lines.empty()) return {};
    return html("<p>SHA-256 fingerprint of its certificate; the first two lines are enough when "
                "you compare it by voice:</p>\n"
                R"(<p class="fingerprint" id="fingerprint">{}</p>)"
                "\n",
                lines);
}

Html this_machine_alone()
{
    return html(R"(<p class="notice">Only this machine can reach this workbench. To let other )"
                "devices in, stop it and start it again so that it listens on an address of this "
                "machine.</p>\n");
}

/// A code, how it gets onto the other device, and what to compare there.
Html code_shown(std::string_view person, std::string_view code, Exchange const& exchange)
{
    Html body = html("<h1>Pair a device of {}</h1>\n"
                     "<p>Open the workbench on that device and type this code. It works once, within "
                     "ten minutes, and gives the role that {} has at that moment.</p>\n"
                     R"(<p class="code-shown" id="code">{}</p>)"
                     "\n",
                     person, person, in_fours(code));
    if (exchange.reach && !exchange.reach->addresses.empty()) {
        std::string const& address = exchange.reach->addresses.front();
        auto drawn = report::qr_drawing(pairing_text(address, code, exchange.reach->fingerprint), 280);
        Html others;
        for (std::string const& one : exchange.reach->addresses)
            others += html(R"(<li><code class="address">{}</code></li>)"
                           "\n",
                           one);
        if (drawn) {
            drawn->name = "QR code";
            drawn->description = "Address, code and fingerprint for the camera of the other device";
            body += html(R"(<div class="qr">{}</div>)"
                         "\n"
                         R"(<p>The QR code holds the address <code class="address">{}</code>, the code and )"
                         "the fingerprint.</p>\n",
                         drawing::svg(*drawn), address);
        }
        if (exchange.reach->addresses.size() > 1)
            body += html("<details><summary>All addresses of this machine</summary>"
                         R"(<ul class="plain-list">{}</ul></details>)"
                         "\n",
                         others);
        body += html("<h2>Compare before you type the code</h2>\n<p>The other device's browser shows the "
                     "fingerprint of the certificate that it received: tap the sign beside the address, then "
                     "the certificate. It must be this one. If it differs, somebody may be intercepting the "
                     "connection: do not type the code.</p>\n{}",
                     fingerprint_shown(*exchange.reach));
    }
    if (exchange.reach && exchange.reach->addresses.empty()) body += this_machine_alone();
    return body + html(R"(<p><a class="button quiet" href="/kit">Back</a></p>)"
                       "\n");
}

/// The page of a device that is not paired. It does not show our fingerprint: somebody who intercepts the
/// connection could show any, so the one to compare with has to come from the serving machine's own screen.
Html pairing_form(Exchange const& exchange, Html const& said)
{
    Html compare;
    if (exchange.reach && !exchange.reach->fingerprint.empty())
        compare =
            html("<li>Compare the certificate before you type anything. Tap the sign to the left of the "
                 "address, then the certificate: your browser shows its SHA-256 fingerprint. Somebody at the "
                 "serving machine reads out the fingerprint that is shown beside the code. If the two "
                 "differ, somebody may be intercepting the connection: type nothing.</li>\n");
    return html("<h1>Pair this device</h1>\n"
                R"({}<ol class="pairing">)"
                "\n<li>Ask for a code. It is shown on the serving machine: on its terminal for the "
                "first device, under Kit and people for every other.</li>\n"
                "{}<li>Type the code here.</li>\n"
                "</ol>\n"
                R"(<p class="notice good" id="scanned" hidden>The code is filled in from the QR )"
                "code.</p>\n"
                R"({}<label>Code<input name="code" inputmode="numeric" )"
                R"(autocomplete="one-time-code" required maxlength="24" class="big"></label>)"
                "\n<button>Pair</button>{}\n"
                "<h2>On the serving machine itself</h2>\n"
                "<p>Open the one-time address that its terminal shows; you need no code there. "
                "Each address works once. The terminal then shows the next one, and names the "
                "file that keeps it.</p>\n",
                said, compare, form(exchange, "/pair"), end_form());
}

/// The certificate as two people compare it, and where other devices come in.
Html this_workbench(Exchange const& exchange)
{
    if (!exchange.reach) return {};
    Html where;
    for (std::string const& address : exchange.reach->addresses)
        where += html(R"(<li><code class="address">{}</code></li>)"
                      "\n",
                      address);
    Html const devices =
        where.empty()
            ? this_machine_alone()
            : html(R"(<p>Other devices open one of these addresses:</p><ul class="plain-list">{}</ul>)"
                   "\n",
                   where);
    return html("<section><h2>This workbench</h2>{}{}</section>\n", devices,
                fingerprint_shown(*exchange.reach));
}

} // namespace

Result<Reply> kit_page(Desk& desk, Exchange const& exchange)
{
    Html body = html("<h1>Kit and people</h1>\n"
                     "<section><h2>Kit</h2>{}</section>\n"
                     R"(<section class="scroll"><h2>People</h2>{}</section>)"
                     "\n",
                     kit_list(desk, exchange), people(desk, exchange));
    body += this_workbench(exchange);
    body += html("<section><h2>This device</h2><p>{} ({}){}</p>{}"
                 R"(<button class="quiet">End this session</button>{}</section>)"
                 "\n",
                 exchange.person, job::name_of(exchange.role),
                 exchange.at_machine ? ", on the serving machine: this session always has the role of a "
                                       "lead, so that somebody can always add people"
                                     : ", paired; the job sets the role of this name",
                 form(exchange, "/leave"), end_form());
    return framed(desk, exchange, "Kit and people", body);
}

Result<Reply> name_person(Desk& desk, Exchange const& exchange)
{
    job::Person person;
    person.name = std::string(trimmed(exchange.text("name")));
    auto const role = job::parse_role(exchange.text("role"));
    if (!role) return Error{Errc::invalid_input, fmt::format("\"{}\" is not a role", exchange.text("role"))};
    person.role = *role;
    // Sessions and codes belong to the person: what they permit changes with this record.
    TRY(desk.job().name_person(person));
    return Reply::see("/kit");
}

Result<Reply> pairing_code(Desk& desk, Exchange const& exchange)
{
    for (job::Person const& person : desk.job().state().people) {
        if (person.name != exchange.text("name")) continue;
        Reply reply =
            framed(desk, exchange, "Pair a device",
                   code_shown(person.name, desk.sessions().code_for(person.name, exchange.now_ms), exchange));
        reply.headers.emplace_back("Cache-Control", "no-store");
        return reply;
    }
    return Error{Errc::not_found, fmt::format("Nobody is called \"{}\"", exchange.text("name"))};
}

Result<Reply> pair_page(Desk& desk, Exchange const& exchange)
{
    Html said;
    if (exchange.has("wrong")) said = notice("bad", "This code is wrong or has expired: ask for another.");
    if (exchange.text("key") == "void")
        said = notice("bad", "This one-time address is wrong or was opened before: each works once. The "
                             "serving machine has the next one.");
    return framed(desk, exchange, "Pair this device", pairing_form(exchange, said));
}

Result<Reply> pair(Desk& desk, Exchange const& exchange)
{
    std::string code;
    for (char const letter : exchange.text("code")) {
        if (letter >= '0' && letter <= '9') code += letter;
    }
    Redeemed const redeemed = desk.sessions().redeem(code, exchange.peer, exchange.now_ms);
    // The role is looked up now: the person may have been demoted, or have left, since the code was made.
    auto const role = role_of(desk.job().state().people, desk.settings().actor.name, redeemed.person);
    if (redeemed.outcome == Redeemed::Outcome::good && role) {
        Reply reply = Reply::see("/");
        reply.headers.emplace_back("X-Session",
                                   desk.sessions().begin(redeemed.person, false, exchange.now_ms));
        return reply;
    }
    if (redeemed.wait_ms == 0) return Reply::see("/pair?wrong=yes");
    std::int64_t const seconds = (redeemed.wait_ms + 999) / 1000;
    std::string const span =
        seconds < 120 ? fmt::format("{} seconds", seconds) : fmt::format("{} minutes", (seconds + 59) / 60);
    std::string said;
    switch (redeemed.outcome) {
    case Redeemed::Outcome::paused:
        said = fmt::format("Somebody has sent {} wrong codes within ten minutes. Codes of eight digits are "
                           "refused for {}. Ask for a new code: it has sixteen digits and works at once.",
                           Guesses::budget, span);
        break;
    case Redeemed::Outcome::wait:
        said = fmt::format("Too many wrong codes came from this device's address, so this code was not "
                           "tried. Wait {}, then type it again.",
                           span);
        break;
    default:
        said = fmt::format("This code is wrong or has expired. Too many wrong codes came from this device's "
                           "address: you can try the next one after {}.",
                           span);
    }
    Reply reply = framed(desk, exchange, "Pair this device", pairing_form(exchange, notice("bad", said)));
    reply.status = 429;
    reply.headers.emplace_back("Retry-After", std::to_string(seconds));
    return reply;
}

Result<Reply> certificate_seen(Desk&, Exchange const&)
{
    Reply reply = Reply::see("/");
    reply.headers.emplace_back("X-Certificate-Seen", "yes"); // the door turns this into a cookie
    return reply;
}

Result<Reply> leave(Desk& desk, Exchange const& exchange)
{
    desk.sessions().end(exchange.session);
    return Reply::see("/pair");
}

Result<Reply> token(Desk&, Exchange const& exchange)
{
    Reply reply = Reply::text(exchange.token);
    reply.headers.emplace_back("Cache-Control", "no-store");
    return reply;
}

Result<Reply> about_page(Desk& desk, Exchange const& exchange)
{
    Html list;
    for (Page const& page : pages()) {
        if (page.method != "GET" || !exchange.may(page.access)) continue;
        bool const alone = (page.in_menu || page.path == "/") && page.path != exchange.path;
        list += alone ? html(R"(<li><a href="{}">{}</a>: {}.</li>)"
                             "\n",
                             page.path, page.title, page.help)
                      : Html{};
    }
    Html cautions;
    for (setup::Caution const& caution : setup::cautions()) cautions += html("<li>{}</li>\n", caution.text);
    return framed(desk, exchange, "More",
                  html("<h1>More</h1>\n"
                       "<section><h2>Cautions</h2><ul>{}</ul></section>\n"
                       R"({}<section><h2>Keys</h2><dl class="facts">{}{}{}{}</dl></section>)"
                       "\n<section><h2>When the connection drops</h2>"
                       "<p>What you enter stays on this device and is sent once the connection is back. "
                       "The strip at the foot of the page shows what still waits.</p></section>\n",
                       cautions,
                       list.empty()
                           ? Html{}
                           : html(R"(<section><h2>Pages</h2><ul class="plain-list">{}</ul></section>)"
                                  "\n",
                                  list),
                       fact("/", "find a link"), fact("n", "next link"), fact("p", "previous link"),
                       fact("Escape", "leave a field")));
}

} // namespace guidepin::web
