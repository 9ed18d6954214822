// SPDX-License-Identifier: Apache-2.0
// The kit (kit_items.cpp), people and their devices, pairing, what else there is.
#include "web/frame.hpp"
#include "web/pages/kit_items.hpp"
#include "web/pages/pages.hpp"

#include "base/text.hpp"
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
            code = html("{}<input type=\"hidden\" name=\"name\" value=\"{}\"><button class=\"quiet\">Pair a "
                        "device of "
                        "{}</button>{}",
                        form(exchange, "/people/code", "inline"), person.name, person.name, end_form());
        rows += html("<tr><th scope=\"row\">{}</th><td>{}</td><td>{}</td></tr>\n", person.name,
                     job::name_of(person.role), code);
    }
    Html body = rows.empty()
                    ? html("<p class=\"quiet\">Nobody named yet.</p>\n")
                    : html("<table><thead><tr><th scope=\"col\">Name</th><th scope=\"col\">Role</th><th "
                           "scope=\"col\">Device</th></tr></thead><tbody>\n{}</tbody></table>\n",
                           rows);
    if (exchange.may(Access::lead))
        body += html(
            "<details class=\"do\"><summary>Name a person, or change a role</summary>{}<label>Name<input "
            "name=\"name\" required maxlength=\"60\" autocomplete=\"off\"></label><label>Role<select "
            "name=\"role\">{}</select></label><p class=\"quiet\">A technician enters readings; a lead also "
            "withdraws imports, names people, decides about the kit and hands over; a reviewer reads and "
            "writes notes.</p>"
            "<button>Keep</button>{}</details>\n",
            form(exchange, "/people"), role_options(job::Role::technician), end_form());
    return body;
}

} // namespace

Result<Reply> kit_page(Desk& desk, Exchange const& exchange)
{
    Html body = html("<h1>Kit and people</h1>\n<section><h2>Kit</h2>{}</section>\n<section "
                     "class=\"scroll\"><h2>People</h2>"
                     "{}</section>\n",
                     kit_list(desk, exchange), people(desk, exchange));
    body += html(
        "<section><h2>This device</h2><p>{} ({}){}</p>{}<button class=\"quiet\">End this session</button>{}"
        "</section>\n",
        exchange.person, job::name_of(exchange.role),
        exchange.at_machine ? ", on the serving machine: nobody logs in here" : ", paired",
        form(exchange, "/leave"), end_form());
    return framed(desk, exchange, "Kit and people", body);
}

Result<Reply> name_person(Desk& desk, Exchange const& exchange)
{
    job::Person person;
    person.name = std::string(trimmed(exchange.text("name")));
    auto const role = job::parse_role(exchange.text("role"));
    if (!role) return Error{Errc::invalid_input, fmt::format("\"{}\" is no role", exchange.text("role"))};
    person.role = *role;
    TRY(desk.job().name_person(person));
    // Sessions carry the role they began with: whoever changed begins anew.
    desk.sessions().end_all_of(person.name == exchange.person ? std::string{} : person.name);
    return Reply::see("/kit");
}

Result<Reply> pairing_code(Desk& desk, Exchange const& exchange)
{
    for (job::Person const& person : desk.job().state().people) {
        if (person.name != exchange.text("name")) continue;
        std::string const code = desk.sessions().code_for(person.name, person.role, desk.now().ms);
        return framed(
            desk, exchange, "Pair a device",
            html("<h1>Pair a device of {}</h1>\n<p>Open the workbench on that device and type this code. It "
                 "is "
                 "good once, for ten minutes.</p>\n<p class=\"code-shown\" id=\"code\">{} {}</p>\n<p><a "
                 "class=\"button quiet\" href=\"/kit\">Back</a></p>\n",
                 person.name, code.substr(0, 4), code.substr(4)));
    }
    return Error{Errc::not_found, fmt::format("Nobody is called \"{}\"", exchange.text("name"))};
}

Result<Reply> pair_page(Desk& desk, Exchange const& exchange)
{
    return framed(
        desk, exchange, "Pair this device",
        html(
            "<h1>Pair this device</h1>\n<p>The code is shown on the serving machine: on its terminal for the "
            "first device, under Kit and people for every other.</p>\n{}{}<label>Code<input name=\"code\" "
            "inputmode=\"numeric\" autocomplete=\"one-time-code\" required maxlength=\"12\" "
            "class=\"big\"></label>\n<button>Pair</button>{}",
            exchange.has("wrong") ? notice("bad", "This code is not good, or no longer: ask for another.")
                                  : Html{},
            form(exchange, "/pair"), end_form()));
}

Result<Reply> pair(Desk& desk, Exchange const& exchange)
{
    std::string code;
    for (char const letter : exchange.text("code")) {
        if (letter >= '0' && letter <= '9') code += letter;
    }
    auto const session = desk.sessions().pair(code, desk.now().ms);
    if (!session) return Reply::see("/pair?wrong=yes");
    Reply reply = Reply::see("/");
    reply.headers.emplace_back("X-Session", *session);
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
        list +=
            alone ? html("<li><a href=\"{}\">{}</a>: {}.</li>\n", page.path, page.title, page.help) : Html{};
    }
    Html cautions;
    for (setup::Caution const& caution : setup::cautions()) cautions += html("<li>{}</li>\n", caution.text);
    return framed(
        desk, exchange, "More",
        html("<h1>More</h1>\n<section><h2>Cautions</h2><ul>{}</ul></section>\n{}<section><h2>Keys</h2><dl "
             "class=\"facts\">{}{}{}{}</dl>"
             "</section>\n<section><h2>When the connection drops</h2><p>What you enter stays on this device "
             "and "
             "is sent again, once, when the connection is back. The strip at the foot of the page says what "
             "still waits.</p></section>\n",
             cautions,
             list.empty() ? Html{}
                          : html("<section><h2>Pages</h2><ul class=\"plain-list\">{}</ul></section>\n", list),
             fact("/", "find a link"), fact("n", "next link"), fact("p", "previous link"),
             fact("Escape", "leave a field")));
}

} // namespace guidepin::web
