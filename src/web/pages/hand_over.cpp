// SPDX-License-Identifier: Apache-2.0
#include "record/derived_query.hpp"
#include "web/frame.hpp"
#include "web/pages/finding_list.hpp"
#include "web/pages/pages.hpp"

#include "base/text.hpp"
#include "drawing/svg.hpp"
#include "job/files/files.hpp"
#include "job/paper/unconfirmed.hpp"

#include <array>
#include <cctype>
#include <filesystem>

#include <fmt/format.h>

namespace guidepin::web {

namespace {

/// Plain files of the package that was built last, here or at the command line.
std::vector<std::string> package_files(Desk const& desk)
{
    std::vector<std::string> names;
    std::error_code trouble;
    for (auto const& entry : std::filesystem::directory_iterator(desk.package_folder(), trouble)) {
        std::error_code ignored;
        if (entry.is_regular_file(ignored) && !entry.is_symlink(ignored) &&
            entry.path().extension() != ".part")
            names.push_back(entry.path().filename().string());
    }
    // The files that a reader opens first come first: the summary, the certificates, then files for programs.
    auto const place = [](std::string const& name) {
        return name == "summary.pdf" ? 0 : name.ends_with(".pdf") ? 1 : 2;
    };
    std::sort(names.begin(), names.end(), [&](std::string const& a, std::string const& b) {
        return std::pair{place(a), a} < std::pair{place(b), b};
    });
    return names;
}

std::string_view type_of(std::string_view name)
{
    return name.ends_with(".pdf")    ? "application/pdf"
           : name.ends_with(".csv")  ? "text/csv; charset=utf-8"
           : name.ends_with(".json") ? "application/json"
           : name.ends_with(".xlsx") ? "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
                                     : "application/octet-stream";
}

/// "A cord check after readings failed": what the rule looks for, as a heading.
std::string words_of_rule(std::string_view id)
{
    for (job::AuditRule const& rule : job::audit_rules()) {
        if (rule.id != id) continue;
        std::string words(rule.about);
        words.front() = static_cast<char>(std::toupper(static_cast<unsigned char>(words.front())));
        return words;
    }
    return std::string(id);
}

/// What a reviewer would find in the job, shown before the handover.
Html audit_section(Desk const& desk)
{
    auto const snapshot = desk.background().latest();
    if (!snapshot || !snapshot->audit)
        return html("<section><h2>What a reviewer will find</h2>"
                    R"(<p class="quiet" role="status">The program is auditing the records )"
                    "…</p></section>\n");
    job::AuditReport const& audit = *snapshot->audit;
    Html groups;
    constexpr std::array words{"Refutes a claim", "Weakens a claim", "Notes"};
    for (job::Weight const weight : {job::Weight::refutes, job::Weight::weakens, job::Weight::notes}) {
        if (audit.count(weight) == 0) continue;
        Html list;
        for (job::AuditFinding const& finding : audit.findings) {
            if (finding.weight != weight) continue;
            list += html("<li><strong>{}.</strong> {}{}</li>\n", words_of_rule(finding.rule), finding.text,
                         weight == job::Weight::notes
                             ? Html{}
                             : html(R"( <span class="quiet">To settle it: {}.</span>)", finding.settles));
        }
        groups += html(R"(<details{}><summary>{}: {}</summary><ul class="audited">{}</ul></details>)"
                       "\n",
                       weight == job::Weight::refutes ? html(" open") : Html{},
                       words[static_cast<std::size_t>(weight)], audit.count(weight), list);
    }
    Html const late =
        desk.background().is_audited()
            ? Html{}
            : html(R"(<p class="quiet" role="status">New data came in: the audit is being updated )"
                   "…</p>");
    return html("<section><h2>What a reviewer will find</h2>{}<p>{}</p>{}</section>\n", late,
                audit.count(job::Weight::refutes) > 0 ? "The records refute some claims."
                : audit.count(job::Weight::weakens) > 0
                    ? "Nothing refutes the job, but some claims are not proven."
                    : "Nothing refutes the job, and nothing weakens it.",
                groups);
}

Result<Html> open_points(Desk& desk, job::StateCounts const& counts)
{
    Html list;
    for (auto const& [state, links] :
         {std::pair{"fail", counts.fail}, std::pair{"marginal-fail", counts.marginal_fail},
          std::pair{"held", counts.held}, std::pair{"open", counts.open}}) {
        if (links == 0) continue;
        record::LinkQuery query;
        query.state = state;
        query.limit = 40;
        TRY_ASSIGN(auto const* const rows, desk.job().rows());
        record::LinkPage const page = record::select_links(*rows, query);
        if (page.total == 0) continue;
        Html points;
        for (auto const& link : page.rows)
            points += html(R"(<li><a href="{}">{}</a> <span class="quiet">{}</span></li>)"
                           "\n",
                           link_address(link.link), link.link, with_times(desk, link.reason));
        list +=
            html(R"(<details><summary>{} {} {}</summary><ul class="points">{}</ul>{}</details>)"
                 "\n",
                 page.total, page.total == 1 ? "link:" : "links:", state_mark(state), points,
                 page.total > 40
                     ? html(R"(<p><a class="button quiet" href="/links?state={}">All of them</a></p>)", state)
                     : Html{});
    }
    return list;
}

/// A document in the page, with links to open or save it above. Most phones show no PDF inside a page; they
/// show the text inside the object instead.
Html looked_at(std::string const& name)
{
    std::string const file = "/package?file=" + url_escaped(name);
    return html(R"(<section id="look"><h2>{}</h2><p class="turn">)"
                R"(<a class="button quiet" href="{}" target="_blank">Open it in a new tab</a>)"
                R"(<a class="button quiet" href="{}" download>Save the file</a></p>)"
                R"(<object class="paper" type="application/pdf" data="{}" aria-label="{}">)"
                "<p>This browser cannot show a PDF inside a page: open it in a new tab, or save "
                "the file.</p></object></section>\n",
                name, file, file, file, name);
}

} // namespace

Result<Reply> hand_over_page(Desk& desk, Exchange const& exchange)
{
    TRY_ASSIGN(job::StateCounts const counts, job::counts_of(desk.job()));
    TRY_ASSIGN(Html const points, open_points(desk, counts));
    TRY_ASSIGN(auto const* const assessment, desk.job().assessment());
    Html seen = html(R"(<section><p class="figure"><strong>{}</strong> of {}</p>{})"
                     "</section>\n",
                     counts.conforming(), counted(counts.total(), "link conforms", "links conform"),
                     drawn(counts_bar("Completeness against the schedule", counts, 720, 26)));
    seen += html("<section><h2>Open points</h2>{}</section>\n",
                 points.empty() ? html("<p>None: every link of the schedule conforms.</p>") : points);
    Html memory;
    for (report::Unconfirmed const& value : job::unconfirmed_of(desk.job().state(), *assessment))
        memory += html("<li>{} {}, {}: decides {}</li>\n", value.quantity, value.value, value.source,
                       value.decides);
    if (!memory.empty())
        seen += html(
            "<section><details><summary>Values from memory that affect a verdict</summary><ul>{}</ul><p>The "
            "contract's rule set can replace them.</p></details></section>\n",
            memory);
    seen += audit_section(desk);
    Building const& building = desk.building();
    Html state;
    if (building.running) {
        state = html(R"(<p role="status"><strong>Building:</strong> {} )"
                     R"(<progress max="{}" value="{}" aria-label="How far"></progress></p>)"
                     "\n",
                     building.what, std::max<std::size_t>(building.total, 1), building.done);
    } else if (!building.failure.empty()) {
        state = notice("bad", building.failure);
    }
    auto const files = package_files(desk);
    Html list;
    for (std::string const& name : files) {
        bool const pdf = name.ends_with(".pdf");
        std::string const file = "/package?file=" + url_escaped(name);
        list += pdf ? html(R"(<li><a class="file" href="/hand-over?look={}#look">{}</a>)"
                           R"(<a class="save" href="{}" download>Save<span class="sr"> {}</span></a></li>)"
                           "\n",
                           url_escaped(name), name, file, name)
                    : html(R"(<li><a class="file" href="{}" download>{}</a></li>)"
                           "\n",
                           file, name);
    }
    seen += html("<section><h2>Package</h2>{}{}</section>\n", state,
                 list.empty() ? html(R"(<p class="quiet">Not built yet.</p>)"
                                     "\n")
                              : html(R"(<ul class="files" id="files">{}</ul>)"
                                     "\n",
                                     list));
    Html body = html("<h1>Hand over</h1>\n{}", live("hand-over", "/hand-over", seen));
    if (exchange.may(Access::lead))
        body += html("<section>{}<p>Acceptance is the decision of the qualified person who signs, not of "
                     "this program.</p><button>{}</button>{}</section>\n",
                     form(exchange, "/hand-over/build"),
                     files.empty() ? "Build the package" : "Build it again", end_form());
    std::string const look = exchange.text("look");
    if (std::find(files.begin(), files.end(), look) != files.end()) body += looked_at(look);
    return framed(desk, exchange, "Hand over", body);
}

Result<Reply> build_package(Desk& desk, Exchange const& exchange)
{
    TRY(desk.build_package(exchange.person));
    return Reply::see("/hand-over");
}

Result<Reply> package_file(Desk& desk, Exchange const& exchange)
{
    // Only a name that the folder lists: the requested text never becomes a path.
    for (std::string const& name : package_files(desk)) {
        if (name != exchange.text("file")) continue;
        Reply reply;
        TRY_ASSIGN(reply.body, job::read_file(desk.package_folder() + "/" + name));
        reply.type = std::string(type_of(name));
        reply.headers.emplace_back("Content-Disposition",
                                   fmt::format("{}; filename=\"{}\"",
                                               reply.type == "application/pdf" ? "inline" : "attachment",
                                               name));
        return reply;
    }
    return Error{Errc::not_found, "The package has no such file: build the package first"};
}

} // namespace guidepin::web
