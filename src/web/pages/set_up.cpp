// SPDX-License-Identifier: Apache-2.0
// Which cord goes where, step by step: the job's set-ups, other ways to do one, and the worksheet with its
// steps and timers.
#include "base/text.hpp"
#include "job/open/choose_set_up.hpp"
#include "job/paper/certificate_of.hpp"
#include "job/plan/set_up_progress.hpp"
#include "web/frame.hpp"
#include "web/pages/pages.hpp"

#include <algorithm>
#include <array>

#include <fmt/format.h>

namespace guidepin::web {

namespace {

constexpr std::size_t short_hash = 16; ///< letters of a record's hash in an address

struct Choice
{
    std::string_view value, text;
};

Html choice_of(std::string_view name, std::string_view caption, std::span<Choice const> choices,
               std::string_view chosen)
{
    Html list;
    for (Choice const& each : choices)
        list += each.value == chosen
                    ? html(R"(<option value="{}" selected>{}</option>)", each.value, each.text)
                    : html(R"(<option value="{}">{}</option>)", each.value, each.text);
    return html(R"(<label>{}<select name="{}">{}</select></label>)"
                "\n",
                caption, name, list);
}

constexpr std::array method_choices{Choice{"", "the job's"},
                                    Choice{"one-cord", "one-cord"},
                                    Choice{"changer", "one-cord with a changer cord"},
                                    Choice{"two-cord", "two-cord"},
                                    Choice{"three-cord", "three-cord"},
                                    Choice{"one-cord,changer,two-cord,three-cord", "any of them"}};
constexpr std::array launch_choices{Choice{"", "from either end"}, Choice{"a", "from end A only"}};
constexpr std::array pin_choices{Choice{"pinned", "pinned"}, Choice{"unpinned", "unpinned"}};
constexpr std::array meter_choices{Choice{"pinned", "pinned"}, Choice{"unpinned", "unpinned"},
                                   Choice{"neutral", "touches no plug"}};
constexpr std::array face_choices{Choice{"flat", "flat"}, Choice{"angled", "angled"}};
constexpr std::array key_choices{Choice{"opposed", "opposed keys"}, Choice{"aligned", "aligned keys"},
                                 Choice{"bare", "bare plug"}};
constexpr std::array family_choices{Choice{"mpo-12", "MPO-12"}, Choice{"mpo-24", "MPO-24"},
                                    Choice{"mpo-16", "MPO-16"}, Choice{"mpo-32", "MPO-32"}};
constexpr std::array kit_scopes{Choice{"complete", "any kit"}, Choice{"job", "the job's kit"}};

/// What was asked of the job's set-ups, and back as an address.
struct Wish
{
    std::string methods, launch;

    std::string address(int group) const
    {
        std::string text = fmt::format("group={}", group);
        if (!methods.empty()) text += "&methods=" + url_escaped(methods);
        if (!launch.empty()) text += "&launch=" + url_escaped(launch);
        return text;
    }
};

Wish wish_of(Exchange const& exchange)
{
    return {exchange.text("methods"), exchange.text("launch")};
}

Result<job::JobSetups> setups_of(Desk& desk, Wish const& wish, bool alternatives)
{
    job::JobSetupWish asked;
    if (!wish.methods.empty()) asked.methods = {wish.methods};
    asked.either_end = wish.launch != "a";
    asked.alternatives = alternatives;
    asked.today = desk.today();
    return job::job_setups(desk.job().state(), asked);
}

Result<job::SetupGroup> group_of(Desk& desk, Exchange const& exchange)
{
    TRY_ASSIGN(job::JobSetups all, setups_of(desk, wish_of(exchange), false));
    auto const number = parse_integer(exchange.has("group") ? exchange.text("group") : "1").value_or(0);
    if (all.groups.empty())
        return Error{Errc::refused,
                     "No link of the job has a set-up now: the page Set-up says why, and what would help"};
    if (number < 1 || number > static_cast<std::int64_t>(all.groups.size()))
        return Error{Errc::not_found, fmt::format("The job has set-ups 1 to {}", all.groups.size())};
    return std::move(all.groups[static_cast<std::size_t>(number - 1)]);
}

Html line_of_light(drawing::LightPath const& path)
{
    return drawn_both(drawing::light_path_drawing(path, 330), drawing::light_path_drawing(path, 960));
}

/// A hyphen before a number is a minus sign on a page.
std::string with_minus(std::string_view text)
{
    std::string shown;
    for (std::size_t i = 0; i < text.size(); ++i) {
        bool const sign = text[i] == '-' && (i == 0 || text[i - 1] == ' ') && i + 1 < text.size() &&
                          text[i + 1] >= '0' && text[i + 1] <= '9';
        shown += sign ? std::string("−") : std::string(1, text[i]);
    }
    return shown;
}

Html numbers_list(std::vector<report::CardNumber> const& numbers)
{
    Html rows;
    for (report::CardNumber const& number : numbers)
        rows += html(R"(<tr><th scope="row">{}</th><td><strong>{}</strong></td><td>{}</td></tr>)"
                     "\n",
                     with_minus(number.what), with_minus(number.accept), with_minus(number.refuse));
    if (rows.empty()) return rows;
    return html(R"(<div class="scroll" tabindex="0" role="region" aria-label="Numbers of the cord )"
                R"(check"><table><thead><tr><th scope="col">Cord check</th>)"
                R"(<th scope="col">Accept</th><th scope="col">Refuse</th></tr></thead>)"
                "<tbody>{}</tbody></table></div>\n",
                rows);
}

Html step_words(setup::Step const& step)
{
    return html("<p><strong>{}</strong> {}</p>{}{}", fmt::format("{}.", step.number), step.text,
                step.look_for.empty() ? Html{} : html(R"(<p class="quiet">Look for: {}</p>)", step.look_for),
                step.if_not.empty() ? Html{} : html(R"(<p class="quiet">If not: {}</p>)", step.if_not));
}

Html cautions()
{
    Html list;
    for (setup::Caution const& each : setup::cautions()) list += html("<li>{}</li>\n", each.text);
    return html(R"(<details class="do"><summary>Cautions</summary><ul>{}</ul></details>)"
                "\n",
                list);
}

Html methods_table(job::SolvedSetup const& solved)
{
    Html rows;
    for (job::MethodRow const& row : solved.methods) {
        std::string const changes = row.cost ? fmt::format("{}", row.cost->pin_changes) : "–";
        std::string const matings = row.cost ? fmt::format("{}", row.cost->reference_matings) : "–";
        std::string const note = row.chosen      ? "chosen"
                                 : !row.cost     ? "not possible with this kit"
                                 : row.permitted ? ""
                                                 : "not permitted by the job";
        rows += html(R"(<tr><th scope="row">{}</th><td class="number" data-label="Pin changes">{}</td>)"
                     R"(<td class="number" data-label="Matings">{}</td>)"
                     R"(<td class="number" data-label="Joints hidden">{}</td>)"
                     R"(<td class="number" data-label="U, k = 2">{} dB</td>)"
                     R"(<td data-label="Remark">{}</td></tr>)"
                     "\n",
                     setup::name_of(row.shadow.arrangement), changes, matings, row.shadow.joints_removed,
                     solved.locale.number(row.expanded_uncertainty.value(), 2), note);
    }
    return html(R"(<div class="scroll" tabindex="0" role="region" aria-label="Other methods">)"
                R"(<table class="tight cards"><thead><tr><th scope="col">Method</th>)"
                R"(<th scope="col" class="number">Pin changes</th>)"
                R"(<th scope="col" class="number">Matings</th>)"
                R"(<th scope="col" class="number">Joints hidden</th>)"
                R"(<th scope="col" class="number">U, k = 2</th><th scope="col">)"
                R"(<span class="sr">Remark</span></th></tr></thead><tbody>{}</tbody></table></div>)"
                "\n",
                rows);
}

/// Facts, phases and steps of a set-up that is not in use.
Html looked_at(job::SetupSheet const& sheet, job::SolvedSetup const& solved)
{
    Html body =
        html("{}<h3>Other methods with the same kit</h3>\n{}", said_list(sheet.facts), methods_table(solved));
    for (job::SheetPhase const& phase : sheet.phases) {
        Html steps;
        for (setup::Step const& step : phase.steps)
            steps += html("<li><div>{}</div></li>\n", step_words(step));
        body +=
            html("<section><h2>{}</h2>{}{}<details><summary>{} step{}</summary>"
                 R"(<ol class="steps">{}</ol></details></section>)"
                 "\n",
                 job::title_of(phase.phase), phase.path ? line_of_light(*phase.path) : Html{},
                 numbers_list(phase.numbers), phase.steps.size(), phase.steps.size() == 1 ? "" : "s", steps);
    }
    Html faces;
    for (drawing::EndFace const& face : job::end_faces_of(solved))
        faces += html("<figure><figcaption>{}</figcaption>{}</figure>\n", face.name,
                      drawn(drawing::end_face_drawing(face, 300)));
    return body +
           html(R"(<details class="do"><summary>The plugs, seen end-on with the key up</summary>)"
                R"(<div class="faces">{}</div></details>)"
                "\n",
                faces) +
           cautions();
}

Html unsolved_notice(job::UnsolvedGroup const& each)
{
    std::string text = each.links.empty()
                           ? std::string("No set-up is possible. ")
                           : fmt::format("No set-up for {} link{} ({}): ", each.links.size(),
                                         each.links.size() == 1 ? "" : "s", job::links_text(each.links, 4));
    text += each.reason;
    if (!each.remedy.empty()) text += " Borrow or buy: " + each.remedy + ".";
    for (std::string const& way : each.ways)
        text += fmt::format(" {} {}.", each.remedy.empty() ? "Possible:" : "Or:", way);
    return notice("hint", text);
}

Html alternatives_table(job::JobSetups const& all)
{
    Html rows;
    auto const row = [&rows](std::string const& name, std::optional<setup::JobCost> const& cost, int hidden,
                             std::string const& blocker) {
        if (!cost) {
            rows += html(R"(<tr><th scope="row">{}</th><td colspan="4" data-label="Why not">{}</td></tr>)"
                         "\n",
                         name, blocker.empty() ? "not possible" : blocker);
            return;
        }
        rows += html(R"(<tr><th scope="row">{}</th><td class="number" data-label="Set-ups">{}</td>)"
                     R"(<td class="number" data-label="References">{}</td>)"
                     R"(<td class="number" data-label="Pin changes">{}</td>)"
                     R"(<td class="number" data-label="Joints hidden">{}</td></tr>)"
                     "\n",
                     name, cost->setups, cost->references, cost->pin_changes, hidden);
    };
    int hidden = 0;
    for (job::SetupGroup const& group : all.groups)
        hidden = std::max(hidden, group.setup.counting.joints_removed);
    row("As shown", all.cost, hidden, {});
    for (setup::JobAlternative const& each : all.alternatives)
        row(each.name, each.cost, each.most_joints_in_reference, each.blocker);
    return html(R"(<div class="scroll" tabindex="0" role="region" aria-label="Other ways">)"
                R"(<table class="tight cards"><thead><tr><th scope="col">Option</th>)"
                R"(<th scope="col" class="number">Set-ups</th>)"
                R"(<th scope="col" class="number">References</th>)"
                R"(<th scope="col" class="number">Pin changes</th>)"
                R"(<th scope="col" class="number">Joints hidden</th></tr></thead>)"
                "<tbody>{}</tbody></table></div>\n",
                rows);
}

Html kit_table(job::JobSetups const& all)
{
    Html rows;
    for (setup::KitLine const& line : all.kit_list)
        rows += html(R"(<tr><th scope="row">{}{}</th><td class="number" data-label="Needed">{}</td>)"
                     R"(<td class="number" data-label="Spare">{}</td>)"
                     R"(<td class="number" data-label="In kit">{}</td></tr>)"
                     "\n",
                     line.text, line.ids.empty() ? std::string() : ": " + joined(line.ids, ", "), line.needed,
                     line.spare, line.in_kit);
    return html(R"(<div class="scroll" tabindex="0" role="region" aria-label="Kit to bring">)"
                R"(<table class="tight cards"><thead><tr><th scope="col">Kit to bring</th>)"
                R"(<th scope="col" class="number">Needed</th>)"
                R"(<th scope="col" class="number">Spare</th>)"
                R"(<th scope="col" class="number">In kit</th></tr></thead>)"
                "<tbody>{}</tbody></table></div>\n",
                rows);
}

Result<Html> in_use(Desk& desk)
{
    job::JobState const& state = desk.job().state();
    Html list;
    int shown = 0;
    for (auto chosen = state.setups.rbegin(); chosen != state.setups.rend() && shown < 6; ++chosen, ++shown) {
        TRY_ASSIGN(job::SetupSheet const sheet, job::sheet_of(*chosen));
        auto const progress = job::progress_of(sheet, state.steps_done, state.settings.reference_age_hours);
        list += html(R"(<li><a href="/set-up?id={}">{}</a> <span class="quiet">{} of {} steps done, )"
                     "chosen {} by {}</span></li>\n",
                     chosen->hash.substr(0, short_hash), chosen->title, progress.done, progress.steps.size(),
                     date_time(desk, chosen->at), chosen->person);
    }
    if (list.empty()) return list;
    return html(R"(<section><h2>Set-ups in use</h2><ul class="plain-list">{}</ul></section>)"
                "\n",
                list);
}

/// The form of "another way": ports, cabling, method and kit.
Html other_way_form(Exchange const& exchange, job::SetupGroup const* like)
{
    auto const given = [&](std::string_view name, std::string fallback) {
        return exchange.has(name) ? exchange.text(name) : fallback;
    };
    std::string source = "pinned", meter = "pinned", first = "pinned", second = "pinned", face = "flat",
                family = "mpo-12", first_keys = "opposed", second_keys = "opposed";
    if (like) {
        setup::Question const& question = like->setup.question;
        auto const keys = [](setup::CablingEnd const& end) {
            return end.fitting == plant::EndFitting::bare_plug ? std::string("bare")
                                                               : plant::name_of(end.fitting);
        };
        source = plant::name_of(question.source.face.pins);
        meter = plant::name_of(question.meter.face.pins);
        first = plant::name_of(question.cabling.first.plug.pins);
        second = plant::name_of(question.cabling.second.plug.pins);
        face = plant::name_of(question.cabling.first.plug.face);
        family = question.cabling.first.plug.family.name();
        first_keys = keys(question.cabling.first);
        second_keys = keys(question.cabling.second);
    }
    return html(
        R"(<form method="get" action="/set-up" class="filters">)"
        R"(<input type="hidden" name="other" value="1">)"
        R"(<input type="hidden" name="group" value="{}">)"
        "\n{}{}{}{}{}{}{}{}{}{}<button>Show what changes</button></form>\n",
        like ? like->number : 1, choice_of("source", "Source's port", pin_choices, given("source", source)),
        choice_of("meter", "Meter's port", meter_choices, given("meter", meter)),
        choice_of("first", "Cabling, launch end", pin_choices, given("first", first)),
        choice_of("second", "Cabling, far end", pin_choices, given("second", second)),
        choice_of("first-keys", "Adapter, launch end", key_choices, given("first-keys", first_keys)),
        choice_of("second-keys", "Adapter, far end", key_choices, given("second-keys", second_keys)),
        choice_of("face", "End faces", face_choices, given("face", face)),
        choice_of("family", "Connector", family_choices, given("family", family)),
        choice_of("method", "Method", std::span(method_choices).subspan(1), given("method", "one-cord")),
        choice_of("kit", "Kit", kit_scopes, given("kit", "complete")));
}

Result<Html> other_way(Desk& desk, Exchange const& exchange, job::SetupGroup const* like)
{
    job::JobState const& state = desk.job().state();
    job::SetupWords words;
    words.source = exchange.text("source");
    words.meter = exchange.text("meter");
    words.cabling = exchange.text("first") + "," + exchange.text("second");
    words.adapters = exchange.text("first-keys") + "," + exchange.text("second-keys");
    words.face = exchange.text("face");
    words.family = exchange.text("family");
    words.methods = {exchange.text("method")};
    if (like && like->setup.question.cabling.first.plug.face ==
                    (words.face == "angled" ? plant::Face::angled : plant::Face::flat))
        words.category = like->setup.question.cabling.category;
    std::vector<std::string> remarks;
    std::optional<job::KitFile> kit;
    if (exchange.text("kit") == "job") kit = job::kit_of_job(state, remarks);
    job::KitRulings const rulings = kit ? job::kit_rulings(*kit, &state, desk.today()) : job::KitRulings{};
    auto const solved = job::set_up(words, kit ? &*kit : nullptr, job::setup_rules_of(state), rulings);
    if (!solved) return notice("bad", "No set-up is possible. " + solved.error().message);
    job::SetupAnswer const& answer = *solved;
    if (!answer.solved) return unsolved_notice(answer.unsolved);
    Html changes;
    if (like) {
        for (job::SetupDifference const& each : job::differences(like->setup, *answer.solved))
            changes += html(R"(<tr><th scope="row">{}</th><td>{}</td><td>{}</td></tr>)"
                            "\n",
                            each.what, each.before, each.after);
        changes =
            changes.empty()
                ? html("<p>This is the same as set-up {}.</p>\n", like->number)
                : html(R"(<div class="scroll" tabindex="0" role="region" aria-label="What changes"><table>)"
                       R"(<thead><tr><th scope="col">What changes</th><th scope="col">Set-up {}</th>)"
                       R"(<th scope="col">This way</th></tr></thead><tbody>{}</tbody></table></div>)"
                       "\n",
                       like->number, changes);
    }
    job::SetupSheet const sheet = job::sheet_of(*answer.solved);
    return html("{}<h2>{}</h2>{}", changes, sheet.title, looked_at(sheet, *answer.solved));
}

Result<Reply> planner(Desk& desk, Exchange const& exchange)
{
    Wish const wish = wish_of(exchange);
    Html body = html("<h1>Set-up</h1>\n");
    TRY_ASSIGN(Html const used, in_use(desk));
    body += used;
    auto const found = setups_of(desk, wish, true);
    if (!found) {
        body += notice("hint", found.error().message);
        body += html("<section><h2>Without the job's links</h2>{}{}</section>\n",
                     other_way_form(exchange, nullptr), Html{});
        if (exchange.has("other")) {
            TRY_ASSIGN(Html const other, other_way(desk, exchange, nullptr));
            body += other;
        }
        return framed(desk, exchange, "Set-up", body);
    }
    job::JobSetups const& all = *found;
    body += html(R"(<form method="get" action="/set-up" class="filters">)"
                 R"(<input type="hidden" name="plan" value="1">{}{})"
                 R"(<button class="quiet">Find set-ups</button></form>)"
                 "\n",
                 choice_of("methods", "Methods permitted", method_choices, wish.methods),
                 choice_of("launch", "Launch", launch_choices, wish.launch));
    for (job::SetupGroup const& group : all.groups) {
        job::SetupSheet const sheet = job::sheet_of(group.setup, &group);
        std::vector<std::string> ids;
        for (setup::GroupedLink const& link : group.links) ids.push_back(link.id);
        body += html(R"(<article class="card"><h2>{}</h2><p>{} link{}: {}</p><p class="quiet">{}</p><p>)"
                     R"(<a class="button" href="/set-up?{}">Show this set-up</a></p></article>)"
                     "\n",
                     sheet.title, ids.size(), ids.size() == 1 ? "" : "s", job::links_text(ids, 5), group.why,
                     wish.address(group.number));
    }
    for (job::UnsolvedGroup const& each : all.unsolved) body += unsolved_notice(each);
    body += html(
        "<section><h2>The whole job</h2>{}{}{}</section>\n",
        all.exact ? Html{}
                  : html(R"(<p class="quiet">There are many kinds of link: this order is good, but perhaps )"
                         "not the best.</p>\n"),
        alternatives_table(all), kit_table(all));
    for (std::string const& remark : all.remarks)
        body += html(R"(<p class="quiet">{}</p>)"
                     "\n",
                     remark);
    return framed(desk, exchange, "Set-up", body);
}

Result<Reply> one_group(Desk& desk, Exchange const& exchange)
{
    TRY_ASSIGN(job::SetupGroup const group, group_of(desk, exchange));
    job::SetupSheet const sheet = job::sheet_of(group.setup, &group);
    Wish const wish = wish_of(exchange);
    bool const other = exchange.has("other");
    Html body = html(R"(<p><a href="/set-up?plan=1">All set-ups</a></p>)"
                     "\n<h1>{}</h1>\n"
                     R"(<p class="sentence">{}</p>)"
                     "\n",
                     sheet.title, group.why);
    body += html(R"(<div class="actions">)");
    if (!other && exchange.may(Access::enter))
        body += html(R"({}<input type="hidden" name="group" value="{}">)"
                     R"(<input type="hidden" name="methods" value="{}">)"
                     R"(<input type="hidden" name="launch" value="{}"><button>Use this set-up</button>{})"
                     "\n",
                     form(exchange, "/set-up/choose"), group.number, wish.methods, wish.launch, end_form());
    body += html(R"(<a class="button quiet" href="/set-up/card?{}">Job card (PDF)</a></div>)"
                 "\n",
                 wish.address(group.number));
    body += html(R"(<details class="do"{}><summary>Compare other pins or another )"
                 "method</summary>{}</details>\n",
                 other ? html(" open") : Html{}, other_way_form(exchange, &group));
    if (other) {
        TRY_ASSIGN(Html const way, other_way(desk, exchange, &group));
        body += way;
    } else {
        body += looked_at(sheet, group.setup);
    }
    return framed(desk, exchange, "Set-up", body);
}

// ---- The worksheet of the set-up in use ----

Html tick_form(Exchange const& exchange, job::SetupSheet const& sheet, std::string const& step,
               std::string_view word, bool quiet)
{
    return html(R"({}<input type="hidden" name="setup" value="{}">)"
                R"(<input type="hidden" name="step" value="{}"><button{}>{}</button>{})",
                kept_form(exchange, "/set-up/step", "Step"), sheet.hash, step,
                quiet ? html(" class=\"quiet\"") : Html{}, word, end_form());
}

Html step_item(Desk& desk, Exchange const& exchange, job::SetupSheet const& sheet,
               job::StepStanding const& standing, bool next)
{
    Html right;
    setup::Step const& step = standing.step;
    bool const may = exchange.may(Access::enter);
    if (standing.done) {
        right =
            html(R"(<p class="done">Done {}<br><span class="quiet">{}</span></p>{})",
                 time_of_day(desk, *standing.at), standing.person,
                 may ? tick_form(exchange, sheet, step.id + std::string(job::step_undone), "Not done", true)
                     : Html{});
    } else if (step.minutes && !standing.started) {
        if (may)
            right = html("{}{}",
                         tick_form(exchange, sheet, step.id + std::string(job::step_started),
                                   fmt::format("Start {} min", number_text(*step.minutes)), !next),
                         tick_form(exchange, sheet, step.id, "Done", true));
    } else {
        if (auto const over = standing.timer_over())
            right = html(R"(<p class="timer" data-until="{}" data-over="time is over">until {}</p>)",
                         over->ms, time_of_day(desk, *over));
        if (may) right += tick_form(exchange, sheet, step.id, "Done", !next);
    }
    return html(R"(<li id="step-{}"{}><div>{}</div><div>{}</div></li>)"
                "\n",
                step.number, next ? html(" aria-current=\"step\"") : Html{}, step_words(step), right);
}

Result<Reply> worksheet(Desk& desk, Exchange const& exchange, job::ChosenSetup const& chosen)
{
    job::JobState const& state = desk.job().state();
    TRY_ASSIGN(job::SetupSheet const sheet, job::sheet_of(chosen));
    job::SetupProgress const progress =
        job::progress_of(sheet, state.steps_done, state.settings.reference_age_hours);
    std::string const id = chosen.hash.substr(0, short_hash);
    Html seen = html(R"(<section class="now"><p class="figure"><strong>{}</strong> of {} steps done</p>)",
                     progress.done, progress.steps.size());
    if (progress.next) {
        setup::Step const& step = progress.steps[*progress.next].step;
        seen += html(R"(<p class="sentence">Next: {}</p><p><a class="button quiet" href="#step-{}">Go )"
                     "to step {}</a></p>",
                     step.text, step.number, step.number);
    } else {
        seen += html(R"(<p class="sentence">Every step is done: measure the links.</p>)");
    }
    if (progress.reference_over)
        seen += html(R"(<p>The reference is valid: <span class="timer" data-until="{}" data-over="too )"
                     R"(old: take a new reference">until {}</span></p>)",
                     progress.reference_over->ms, date_time(desk, *progress.reference_over));
    seen += html("</section>\n");
    std::size_t at = 0;
    for (job::SheetPhase const& phase : sheet.phases) {
        Html steps;
        for (std::size_t i = 0; i < phase.steps.size(); ++i, ++at)
            steps += step_item(desk, exchange, sheet, progress.steps[at], progress.next == at);
        seen += html(R"(<section><h2>{}</h2>{}{}<ol class="steps">{}</ol></section>)"
                     "\n",
                     job::title_of(phase.phase), phase.path ? line_of_light(*phase.path) : Html{},
                     numbers_list(phase.numbers), steps);
    }
    Html body = html(R"(<p><a href="/set-up?plan=1">All set-ups</a></p>)"
                     "\n<h1>{}</h1>\n"
                     R"(<p class="quiet">Chosen {} by {}</p>)"
                     "\n"
                     R"(<p><a class="button quiet" href="/set-up/card?id={}">Job card (PDF)</a></p>)"
                     "\n"
                     R"(<details class="do"><summary>Cabling, cords and )"
                     "consequences</summary>{}</details>\n"
                     "{}{}",
                     sheet.title, date_time(desk, chosen.at), chosen.person, id, said_list(sheet.facts),
                     cautions(), live("set-up", "/set-up?id=" + id, seen));
    return framed(desk, exchange, "Set-up", body);
}

} // namespace

Result<Reply> set_up_page(Desk& desk, Exchange const& exchange)
{
    job::JobState const& state = desk.job().state();
    if (exchange.has("id")) {
        job::ChosenSetup const* const chosen = job::find_setup(state, exchange.text("id"));
        if (!chosen)
            return Error{Errc::not_found, "The job has no such set-up: choose one on the page Set-up"};
        return worksheet(desk, exchange, *chosen);
    }
    if (exchange.has("group") && !state.links.empty()) return one_group(desk, exchange);
    if (!exchange.has("plan") && !exchange.has("other") && !state.setups.empty())
        return worksheet(desk, exchange, state.setups.back());
    return planner(desk, exchange);
}

Result<Reply> choose_setup(Desk& desk, Exchange const& exchange)
{
    TRY_ASSIGN(job::SetupGroup const group, group_of(desk, exchange));
    TRY_ASSIGN(std::string const hash, job::choose(desk.job(), group, desk.today()));
    return Reply::see("/set-up?id=" + hash.substr(0, short_hash));
}

Result<Reply> setup_card(Desk& desk, Exchange const& exchange)
{
    job::JobState const& state = desk.job().state();
    job::SetupSheet sheet;
    if (exchange.has("id")) {
        job::ChosenSetup const* const chosen = job::find_setup(state, exchange.text("id"));
        if (!chosen) return Error{Errc::not_found, "The job has no such set-up"};
        TRY_ASSIGN(sheet, job::sheet_of(*chosen));
    } else {
        TRY_ASSIGN(job::SetupGroup const group, group_of(desk, exchange));
        sheet = job::sheet_of(group.setup, &group);
    }
    job::CardOptions options;
    options.paper = report::parse_paper(state.settings.paper).value_or(report::Paper::a4);
    options.locale = desk.locale();
    options.made = desk.now();
    options.program = desk.settings().actor.program;
    Reply reply;
    TRY_ASSIGN(reply.body, job::job_card_pdf(sheet,
                                             {state.settings.title, state.settings.site,
                                              state.settings.client, state.settings.contractor},
                                             options));
    reply.type = "application/pdf";
    reply.headers.emplace_back("Content-Disposition", "inline; filename=\"job-card.pdf\"");
    return reply;
}

Result<Reply> tick_step(Desk& desk, Exchange const& exchange)
{
    job::StepDone step{exchange.text("setup").substr(0, 200),
                       exchange.text("step").substr(0, 200),
                       exchange.text("key").substr(0, 64),
                       {},
                       {}};
    if (step.setup.empty() || step.step.empty())
        return Error{Errc::invalid_input, "The set-up or its step is missing: open the set-up again"};
    TRY(desk.job().tick_step(step));
    bool const known = job::find_setup(desk.job().state(), step.setup) != nullptr;
    return Reply::see(known ? "/set-up?id=" + url_escaped(step.setup.substr(0, short_hash)) : "/set-up");
}

} // namespace guidepin::web
