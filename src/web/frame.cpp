// SPDX-License-Identifier: Apache-2.0
#include "web/frame.hpp"

#include "base/text.hpp"
#include "drawing/svg.hpp"
#include "job/groundwork/reading_rules.hpp"
#include "job/sheet/locale.hpp"
#include "web/assets.hpp"
#include "web/reach.hpp"

#include <algorithm>
#include <array>

#include <fmt/format.h>

namespace guidepin::web {

namespace {

Html menu(Exchange const& exchange)
{
    Html items;
    for (Page const& page : pages()) {
        if (!page.in_menu) continue;
        bool const here = page.path == exchange.path || (page.path == "/links" && exchange.path == "/link");
        items += here ? html(R"(<li><a href="{}" aria-current="page">{}</a></li>)", page.path, page.title)
                      : html(R"(<li><a href="{}">{}</a></li>)", page.path, page.title);
    }
    return items;
}

std::string spoken(std::string_view fingerprint)
{
    return joined(fingerprint_lines(fingerprint), " ");
}

/// The certificate is not the one that this device knew: when and why it changed, and what to compare.
Html changed_certificate(Desk const& desk, Exchange const& exchange)
{
    if (!exchange.reach || exchange.old_certificate.empty()) return {};
    Html why = html("<p>The certificate of this workbench is not the one that this device knew.");
    for (CertificateChange const& change : exchange.reach->changes) {
        if (change.after == exchange.reach->fingerprint)
            why = html("<p>The certificate of this workbench changed on {}: {}.",
                       time_mark(desk, {change.at_ms}), change.why);
    }
    Html seen;
    if (!exchange.session.empty())
        seen = html(R"({}<button class="quiet">I have compared them</button>{})",
                    form(exchange, "/certificate/seen", "inline"), end_form());
    return html(R"(<div class="banner certificate" role="status">{} Compare the new fingerprint )"
                "with the one on the serving machine (its terminal, or Kit and people).</p>\n"
                R"(<dl class="facts">{}{}</dl>)"
                "\n{}</div>\n",
                why, fact("Old, SHA-256", html("<code>{}</code>", spoken(exchange.old_certificate))),
                fact("New, SHA-256", html("<code>{}</code>", spoken(exchange.reach->fingerprint))), seen);
}

/// The warnings at the top of every page. The element is always there, so that a refresh can add a banner.
Html banners(Desk const& desk, Exchange const& exchange)
{
    Html inside;
    // Only people who may see the job see what is wrong with it.
    if (std::string const trouble = desk.trouble(); !trouble.empty() && !exchange.session.empty())
        inside += html(R"(<div class="banner {}" role="alert"><p><strong>{}:</strong> {}</p></div>)"
                       "\n",
                       desk.is_stopped() ? "bad" : "caution", desk.is_stopped() ? "Stop" : "Caution",
                       with_times(desk, trouble));
    inside += changed_certificate(desk, exchange);
    if (!inside.empty())
        inside = html(R"(<section aria-label="Warnings">)"
                      "\n{}</section>\n",
                      inside);
    return html(R"(<div id="banners">)"
                "\n{}</div>\n",
                inside);
}

} // namespace

std::string Exchange::text(std::string_view name) const
{
    auto const found = fields.find(std::string(name));
    return found == fields.end() ? std::string{} : found->second;
}

std::vector<std::string> Exchange::texts(std::string_view name) const
{
    std::vector<std::string> list;
    auto const [first, last] = fields.equal_range(std::string(name));
    for (auto i = first; i != last; ++i) list.push_back(i->second);
    return list;
}

bool Exchange::has(std::string_view name) const
{
    return !text(name).empty();
}

bool Exchange::may(Access access) const
{
    if (access == Access::anybody) return true;
    if (session.empty()) return false;
    if (access == Access::lead) return role == job::Role::lead;
    if (access == Access::enter) return role != job::Role::reviewer;
    return true;
}

Reply Reply::see(std::string place)
{
    Reply reply;
    reply.status = 303;
    reply.headers.emplace_back("Location", std::move(place));
    return reply;
}

Reply Reply::text(std::string words, int status)
{
    Reply reply;
    reply.status = status;
    reply.type = "text/plain; charset=utf-8";
    reply.body = std::move(words) + "\n";
    return reply;
}

Reply framed(Desk& desk, Exchange const& exchange, std::string_view title, Html const& body)
{
    job::Settings const& settings = desk.job().state().settings;
    std::string const job = settings.title.empty() ? "Untitled job" : settings.title;
    Html const theme = exchange.theme.empty() ? Html{} : html(" data-theme=\"{}\"", exchange.theme);
    bool const inside = !exchange.session.empty();
    Reply reply;
    Html page = html("<!DOCTYPE html>\n"
                     R"(<html lang="en"{}>)"
                     "\n<head>\n"
                     R"(<meta charset="utf-8">)"
                     "\n"
                     R"(<meta name="viewport" content="width=device-width, initial-scale=1">)"
                     "\n"
                     R"(<meta name="color-scheme" content="light dark">)"
                     "\n"
                     R"(<meta name="htmx-config" )"
                     R"(content='{{"includeIndicatorStyles":false,"allowEval":false,"selfRequestsOnly":t)"
                     R"(rue,"historyCacheSize":0,"refreshOnHistoryMiss":true}}'>)"
                     "\n<title>{} – {}</title>\n"
                     R"(<link rel="icon" type="image/svg+xml" href="{}">)"
                     "\n"
                     R"(<link rel="stylesheet" href="{}">)"
                     "\n"
                     R"(<script src="{}" defer></script>)"
                     "\n"
                     R"(<script src="{}" defer></script>)"
                     "\n</head>\n",
                     theme, title, inside ? job : "Guidepin", asset_path("mark.svg"),
                     asset_path("guidepin.css"), asset_path("htmx.min.js"), asset_path("guidepin.js"));
    page += html(R"(<body data-changes="{}" data-token="{}">)"
                 "\n"
                 R"(<a class="skip" href="#content">Skip to the content</a>)"
                 "\n"
                 R"(<header class="top"><a class="mark" href="/">{}<span>Guidepin</span></a>)",
                 desk.changes(), exchange.token, drawing::svg(drawing::mark_drawing(64)));
    if (inside)
        page += html(R"(<p class="job">{}</p><p class="who">{}<span>{}</span></p>)", job, exchange.person,
                     job::name_of(exchange.role));
    page += html(R"(<button type="button" class="plain" id="theme" aria-label="Switch between light )"
                 R"(and dark">◐</button></header>)"
                 "\n");
    page += banners(desk, exchange);
    if (inside)
        page += html(R"(<nav class="menu" aria-label="Pages"><ul>{}</ul></nav>)"
                     "\n",
                     menu(exchange));
    page += html(R"(<main id="content" tabindex="-1">)"
                 "\n{}</main>\n"
                 R"(<div id="kept" class="kept" role="status" aria-live="polite" hidden></div>)"
                 "\n<footer><p>Light from a fibre is invisible and can harm the eye: never look "
                 "into an end; switch the source off before you inspect. "
                 R"(<a href="/about">Cautions, keys and all pages</a></p></footer>)"
                 "\n</body>\n"
                 "</html>\n",
                 body);
    reply.body = page.text();
    return reply;
}

Html live(std::string_view id, std::string_view address, Html const& body)
{
    return html(R"(<div id="{}" class="live" hx-get="{}" hx-trigger="gp:changed from:body" )"
                R"(hx-select="#{}" hx-select-oob="#banners" hx-swap="outerHTML">)"
                "\n{}</div>\n",
                id, address, id, body);
}

Reply failure_page(Desk& desk, Exchange const& exchange, Error const& error, int status)
{
    if (exchange.json) {
        Reply reply = Reply::text(error.message, status);
        // Not the entry's fault: our script keeps it and sends it again later.
        if (std::string const trouble = desk.trouble();
            desk.is_stopped() && (status == 409 || status >= 500)) {
            reply = Reply::text(trouble, status);
            reply.headers.emplace_back("X-Guidepin-Trouble", "yes");
        }
        return reply;
    }
    Html lines;
    for (std::string_view const line : split(error.message, '\n'))
        lines += html("<p>{}</p>\n", with_times(desk, line));
    Reply reply = framed(desk, exchange, "This did not work",
                         html("<h1>This did not work</h1>\n"
                              R"(<div class="notice bad" role="alert">{}</div>)"
                              "\n"
                              R"(<p><a class="button quiet" href="/">Back to today</a></p>)"
                              "\n",
                              lines));
    reply.status = status;
    return reply;
}

std::string link_address(std::string_view id)
{
    return "/link?id=" + url_escaped(id);
}

Html form(Exchange const& exchange, std::string_view address, std::string_view more_classes)
{
    return html(R"(<form method="post" action="{}" enctype="multipart/form-data" class="entry {}">)"
                R"(<input type="hidden" name="token" value="{}">)"
                "\n",
                address, more_classes, exchange.token);
}

Html kept_form(Exchange const& exchange, std::string_view address, std::string_view what)
{
    return html(R"(<form method="post" action="{}" enctype="multipart/form-data" class="entry" )"
                R"(data-keep="{}"><input type="hidden" name="token" value="{}">)"
                R"(<input type="hidden" name="key" value="{}">)"
                "\n",
                address, what, exchange.token, random_word(12));
}

Html end_form()
{
    return html("</form>\n");
}

drawing::Standing standing_of(std::string_view state)
{
    using drawing::Standing;
    return state == "pass"            ? Standing::pass
           : state == "marginal-pass" ? Standing::marginal_pass
           : state == "marginal-fail" ? Standing::marginal_fail
           : state == "fail"          ? Standing::fail
           : state == "held"          ? Standing::held
                                      : Standing::open;
}

Html state_mark(drawing::Standing standing)
{
    static constexpr std::array<char const*, 7> names{"pass", "pass", "fail", "fail", "held", "open", "open"};
    drawing::Scene sign = drawing::sign_drawing(standing);
    sign.name.clear();
    sign.description.clear();
    // The word beside the sign says the same, so a screen reader skips the sign.
    return html(R"(<span class="state {}"><span class="sign" aria-hidden="true">{}</span>{}</span>)",
                names[static_cast<std::size_t>(standing)], drawing::svg(sign), drawing::word_of(standing));
}

Html state_mark(std::string_view state)
{
    return state_mark(standing_of(state));
}

Html drawn(drawing::Scene const& scene)
{
    return html(R"(<div class="drawing">{}</div>)"
                "\n",
                drawing::svg(scene));
}

Html drawn_grown(drawing::Scene const& scene)
{
    return html(R"(<div class="drawing grown">{}</div>)"
                "\n",
                drawing::svg(scene));
}

Html drawn_both(drawing::Scene const& narrow, drawing::Scene const& wide)
{
    return html(R"(<div class="drawing when-narrow">{}</div><div class="drawing when-wide">{}</div>)"
                "\n",
                drawing::svg(narrow), drawing::svg(wide));
}

Html drawn_both_grown(drawing::Scene const& narrow, drawing::Scene const& wide)
{
    return html(R"(<div class="drawing grown when-narrow">{}</div>)"
                R"(<div class="drawing grown when-wide">{}</div>)"
                "\n",
                drawing::svg(narrow), drawing::svg(wide));
}

Html drawn_wide(drawing::Scene const& scene, std::string_view name)
{
    return html(R"(<div class="drawing wide" tabindex="0" role="region" aria-label="{}">{}</div>)"
                "\n",
                name, drawing::svg(scene));
}

std::string counts_text(job::StateCounts const& counts)
{
    std::string text;
    auto const say = [&](std::int64_t count, char const* word) {
        if (count > 0) text += fmt::format("{}{} {}", text.empty() ? "" : ", ", count, word);
    };
    say(counts.pass, "pass");
    say(counts.marginal_pass, "marginal pass");
    say(counts.marginal_fail, "marginal fail");
    say(counts.fail, "fail");
    say(counts.held, "held");
    say(counts.open, "open");
    return text.empty() ? "none" : text;
}

drawing::Scene counts_bar(std::string const& name, job::StateCounts const& counts, double width,
                          double height)
{
    using namespace drawing;
    Scene scene;
    scene.width = width;
    scene.height = height;
    scene.name = name;
    scene.description = counts_text(counts);
    auto const total = static_cast<double>(std::max<std::int64_t>(counts.total(), 1));
    double const cap = 3, top = cap + 0.5, tall = height - top - 0.5;
    double x = 0.5;
    auto const piece = [&](std::int64_t links, auto const& draw) {
        if (links == 0) return;
        // The smallest share stays a thing that can be seen.
        double const wide = std::max(3.0, (width - 1) * static_cast<double>(links) / total);
        draw(Box{x, top, std::min(wide, width - 0.5 - x), tall});
        x += wide;
    };
    piece(counts.conforming(), [&](Box box) { scene.add(Rect{box, 0, paint(Token::pass), {}}); });
    piece(counts.failing(), [&](Box box) {
        scene.add(Rect{box, 0, paint(Token::fail), {}});
        scene.add(Rect{{box.x - 1, 0, box.width + 2, cap}, 0, paint(Token::fail), {}});
    });
    piece(counts.held, [&](Box box) {
        scene.add(Hatch{box, 3.5, {paint(Token::held), 1, false}});
        scene.add(Rect{box, 0, {}, {paint(Token::held), 1, false}});
    });
    piece(counts.open, [&](Box box) { scene.add(Rect{box, 0, {}, {paint(Token::open), 1, true}}); });
    return scene;
}

Html fact(std::string_view caption, Html const& value)
{
    return html(R"(<div class="fact"><dt>{}</dt><dd>{}</dd></div>)"
                "\n",
                caption, value);
}

Html fact(std::string_view caption, std::string_view value)
{
    return fact(caption, html("{}", value));
}

Html said_list(std::vector<report::Said> const& said)
{
    Html list;
    for (report::Said const& line : said)
        list += fact(line.label, line.mono ? html("<code>{}</code>", line.text) : html("{}", line.text));
    return html(R"(<dl class="facts">{}</dl>)"
                "\n",
                list);
}

Html option(std::string_view value, std::string_view words, bool chosen)
{
    return chosen ? html(R"(<option value="{}" selected>{}</option>)", value, words)
                  : html(R"(<option value="{}">{}</option>)", value, words);
}

Html notice(std::string_view kind, std::string_view text)
{
    return html(R"(<p class="notice {}" role="{}">{}</p>)"
                "\n",
                kind, kind == "bad" ? "alert" : "status", text);
}

std::string date_time(Desk const& desk, Instant const& at)
{
    return job::date_time(at, desk.job().state().settings);
}

Html time_mark(Desk const& desk, Instant const& at)
{
    return html(R"(<time datetime="{}">{}</time>)", instant_text(at), date_time(desk, at));
}

std::string time_of_day(Desk const& desk, Instant const& at)
{
    return time_text({at.ms, desk.job().state().settings.zone_offset_minutes});
}

std::string with_times(Desk const& desk, std::string_view sentence)
{
    return job::with_times(sentence, desk.job().state().settings);
}

Result<std::optional<Instant>> typed_at(Desk const& desk, Exchange const& exchange)
{
    auto const taken = parse_instant(exchange.text("taken"));
    if (!taken) return std::optional<Instant>{};
    if (taken->ms > desk.now().ms + job::future_tolerance_ms)
        return Error{Errc::invalid_input,
                     "This device's clock is more than five minutes ahead: set it, then send again"};
    return std::optional<Instant>{*taken};
}

std::optional<double> typed_number(std::string_view text)
{
    std::string plain(trimmed(text));
    std::replace(plain.begin(), plain.end(), ',', '.');
    // A person may also type the printed minus sign.
    if (plain.rfind("−", 0) == 0) plain.replace(0, std::string_view("−").size(), "-");
    return parse_number(plain);
}

} // namespace guidepin::web
