// SPDX-License-Identifier: Apache-2.0
// One reference on its page: state and reasons, powers, cord checks, and whether it drifted.
#include "web/pages/reference_parts.hpp"

#include "base/text.hpp"
#include "drawing/charts.hpp"
#include "job/doubt/doubt_text.hpp"
#include "job/groundwork/trust.hpp"
#include "job/paper/pictures.hpp"
#include "job/paper/wording.hpp"
#include "web/pages/power_drawing.hpp"

#include <algorithm>
#include <cmath>
#include <map>

#include <fmt/format.h>

namespace guidepin::web {

namespace {

Html trust_mark(std::string_view state)
{
    return html(R"(<span class="state {}">{}</span>)", state == "refused" ? "fail" : "pass", state);
}

Html reasons_list(Desk const& desk, std::vector<job::TrustReason> const& reasons)
{
    if (reasons.empty())
        return html(R"(<p class="quiet">All its values are plausible.</p>)"
                    "\n");
    Html list;
    for (job::TrustReason const& reason : reasons)
        list += html(R"(<li class="{}"><strong>{}</strong> {} {}</li>)"
                     "\n",
                     reason.refuses ? "bad" : "hint",
                     reason.refuses ? "Refused:" : "Note:", with_times(desk, reason.text),
                     with_times(desk, reason.what_to_do));
    return html(R"(<ul class="reasons">{}</ul>)"
                "\n",
                list);
}

drawing::Standing standing_of(verdict::CordResult result)
{
    switch (result) {
    case verdict::CordResult::good:
        return drawing::Standing::pass;
    case verdict::CordResult::high:
    case verdict::CordResult::low:
        return drawing::Standing::marginal_pass;
    case verdict::CordResult::too_high:
    case verdict::CordResult::below_zero:
    case verdict::CordResult::dark:
        return drawing::Standing::fail;
    case verdict::CordResult::missing:
        break;
    }
    return drawing::Standing::open;
}

Html check_card(Desk const& desk, job::JobState const& state, job::CheckStanding const& standing,
                job::Trust const& trust)
{
    report::Locale const locale = desk.locale();
    job::CordCheckEntry const& entry = state.checks[standing.entry];
    Html pictures;
    for (verdict::CordLimit const& limit : standing.assessment.limits) {
        drawing::BarChart chart;
        chart.name = fmt::format("Cord check {} at {} nm", entry.id, limit.wavelength.value());
        chart.number = [locale](double value, int decimals) { return locale.number(value, decimals); };
        drawing::BarPanel panel;
        panel.label = fmt::format("{} nm", limit.wavelength.value());
        panel.limit = std::max(limit.rules.value(), limit.practice.value());
        for (verdict::CordFibre const& fibre : standing.assessment.fibres) {
            if (fibre.wavelength != limit.wavelength) continue;
            drawing::Bar bar;
            bar.position = fibre.position;
            bar.standing = standing_of(fibre.result);
            if (std::isfinite(fibre.attenuation.value())) bar.value = fibre.attenuation.value();
            panel.bars.push_back(bar);
        }
        chart.panels.push_back(std::move(panel));
        pictures +=
            drawn_both_grown(drawing::bar_drawing(chart, 310, 130), drawing::bar_drawing(chart, 420, 130));
        Html lines;
        for (loss::LimitLine const& line : limit.by_rules)
            lines += html(R"(<li>{}: {} × {} {} = {} dB <span class="quiet">{}</span></li>)", line.what,
                          number_text(line.count), locale.number(line.each, 2), line.unit,
                          locale.number(line.loss.value(), 3), line.source.text());
        std::string const predicted = limit.predicted
                                          ? fmt::format(" Predicted from the joints: {} dB.",
                                                        locale.number(limit.predicted->value(), 2))
                                          : std::string{};
        pictures += html("<details><summary>Limit {} dB at {} nm by the rules, {} dB by trade "
                         "practice.{}</summary><ul>{}</ul></details>\n",
                         locale.number(limit.rules.value(), 2), limit.wavelength.value(),
                         locale.number(limit.practice.value(), 2), predicted, lines);
    }
    return html(R"(<article class="card"><h4>Cord check {} {}</h4>)"
                R"(<p class="quiet">{}</p>{}{}</article>)"
                "\n",
                entry.id, trust_mark(trust.state), time_mark(desk, entry.taken()),
                reasons_list(desk, trust.reasons), pictures);
}

Html powers(Desk const& desk, job::JobState const& state, job::ReferenceStanding const& standing)
{
    report::Locale const locale = desk.locale();
    job::ReferenceEntry const& entry = state.references[standing.entry];
    Html parts;
    for (verdict::ReferenceRow const& row : standing.assessment.rows) {
        std::map<int, std::pair<double, int>> sums;
        for (std::size_t i = 0; i < entry.size(); ++i) {
            if (entry.wavelength_nm[i] != row.wavelength.value()) continue;
            sums[entry.position[i]].first += entry.power_dbm[i];
            ++sums[entry.position[i]].second;
        }
        PowerRow picture;
        picture.name = fmt::format("Reference {} at {} nm", entry.id, row.wavelength.value());
        bool const multimode = row.wavelength.value() <= 1300;
        std::string const kind = multimode ? "multimode" : "single-mode";
        if (auto const* const low = state.tables.fact(fmt::format("readiness.power.{}.lowest", kind)))
            picture.low = low->value;
        if (auto const* const high = state.tables.fact(fmt::format("readiness.power.{}.highest", kind)))
            picture.high = high->value;
        for (auto const& [position, sum] : sums) picture.powers[position] = sum.first / sum.second;
        picture.number = [locale](double value, int decimals) { return locale.number(value, decimals); };
        parts += html("<div><h4>{} nm</h4>{}<p>Mean {} dBm, spread {} dB over {} fibres{}.</p></div>\n",
                      row.wavelength.value(),
                      drawn_both_grown(power_drawing(picture, 310), power_drawing(picture, 420)),
                      locale.number(row.mean.value(), 2), locale.number(row.spread.value(), 2), row.fibres,
                      row.repeatability
                          ? fmt::format("; repeated within {} dB (standard deviation of one reading)",
                                        locale.number(row.repeatability->value(), 3))
                          : std::string{"; not repeated"});
    }
    return parts;
}

/// The form in which a lead relies on a doubted reference, or withdraws that decision.
Html rely_form(Exchange const& exchange, verdict::ReferenceId const& id,
               job::WatchedReference const& reference)
{
    if (!exchange.may(Access::lead)) return {};
    bool doubted = false;
    bool relied_on = false;
    for (job::Doubt const& doubt : reference.doubts) {
        doubted = doubted || (doubt.material && !doubt.trusted);
        relied_on = relied_on || doubt.trusted;
    }
    if (!doubted && !relied_on) return {};
    return html(R"(<details class="do" id="rely"><summary>{}</summary>)"
                "\n"
                R"({}<input type="hidden" name="id" value="{}">{}<label>Why)"
                R"(<textarea name="reason" rows="2" maxlength="{}" required></textarea></label>)"
                R"(<p class="turn">{}{}</p>{}</details>)"
                "\n",
                doubted ? fmt::format("Rely on {} anyway", id) : fmt::format("No longer rely on {}", id),
                form(exchange, "/reference/rely"), id,
                doubted ? html("<p>The readings that the present doubts hold count again. A doubt that "
                               "grows, or a new one, holds them again. The record and the package keep your "
                               "name, the time and your reason.</p>")
                        : html("<p>The doubts hold their readings again.</p>"),
                job::longest_reason / 4, doubted ? html("<button>Rely on it</button>") : Html{},
                relied_on
                    ? html(R"(<button class="quiet" name="undo" value="1">No longer rely on it</button>)")
                    : Html{},
                end_form());
}

/// The links under this reference in order of time: did the reference drift?
Html watched(Desk const& desk, Exchange const& exchange, job::JobState const& state,
             job::Assessment const& assessment, verdict::ReferenceId const& id)
{
    job::WatchedReference const* const reference = assessment.watching->find(id, state);
    if (!reference) return {};
    report::Locale const locale = desk.locale();
    drawing::ControlChart chart = job::control_chart_of(state, assessment, *reference);
    chart.number = [locale](double value, int decimals) { return locale.number(value, decimals); };
    Html doubts;
    for (job::Doubt const& doubt : reference->doubts) {
        Html witnesses;
        for (job::WatchWitness const& witness : doubt.witnesses)
            witnesses +=
                html("<li>{}: {} ({} dB)</li>\n", witness.what, witness.moved ? "had moved" : "had not moved",
                     locale.number(witness.by.value(), 2));
        std::string held;
        if (!doubt.held.empty())
            held = fmt::format("It holds {} of {} links.", doubt.held.size(), reference->tests.size());
        doubts += html(R"(<li class="{}"><strong>{}</strong> {} {}{}</li>)"
                       "\n",
                       doubt.held.empty() ? "hint" : "bad", job::doubt_text(state, *reference, doubt) + ".",
                       held, job::doubt_action(state, *reference, doubt),
                       witnesses.empty() ? Html{} : html("<ul>{}</ul>", witnesses));
    }
    Html const words = doubts.empty() ? html(R"(<p class="quiet">The links show no drift.</p>)"
                                             "\n")
                                      : html(R"(<ul class="reasons">{}</ul>)"
                                             "\n",
                                             doubts);
    return html(R"(<section id="still"><h3>Did the reference drift?</h3>)"
                "\n"
                R"(<p class="quiet">Each point is one link: how far its fibres together read above )"
                "similar links.</p>\n"
                "{}{}{}</section>\n",
                drawn_both_grown(drawing::control_drawing(chart, 310, 200),
                                 drawing::control_drawing(chart, 900, 230)),
                words, rely_form(exchange, id, *reference));
}

std::string kit_text(job::TestKit const& kit)
{
    std::string text;
    auto const say = [&](char const* what, std::string const& id) {
        if (!id.empty()) text += fmt::format("{}{} {}", text.empty() ? "" : ", ", what, id);
    };
    say("source", kit.source);
    say("meter", kit.meter);
    say("launch cord", kit.launch);
    say("tail cord", kit.tail);
    say("known cord", kit.substitution);
    return text.empty() ? "kit not stated" : text;
}

} // namespace

Html shown_reference(Desk const& desk, Exchange const& exchange, job::Assessment const& assessment,
                     std::size_t index)
{
    job::JobState const& state = desk.job().state();
    job::ReferenceEntry const& entry = state.references[index];
    job::ReferenceStanding const& standing = assessment.references[index];
    auto const trusts = job::reference_trust(state, assessment);
    auto const checks = job::check_trust(state, assessment);
    auto const now = job::reference_now(state, assessment, index, desk.now());
    Html cards;
    for (std::size_t const c : standing.checks)
        cards += check_card(desk, state, assessment.checks[c], checks[c]);
    if (cards.empty())
        cards =
            html("<p>No cord check yet: readings under this reference are held until one is accepted.</p>\n");
    Html const condition = now.condition == job::ReferenceCondition::refused
                               ? Html{} // the mark before it already says so
                               : html(R"( <span class="quiet">·</span> <span class="state {}">{}</span>)",
                                      now.condition == job::ReferenceCondition::in_force ? "pass" : "held",
                                      job::name_of(now.condition));
    return html("<h2>{} {}{}</h2>\n"
                R"({}{}<dl class="facts">{}{}{}</dl>)"
                "\n"
                R"(<section><h3>Powers</h3><div class="gallery">{}</div></section>)"
                "\n"
                R"(<section><h3>Cord checks</h3><div class="gallery">{}</div></section>)"
                "\n"
                R"({}<p><a class="button quiet" href="/links?reference={}">Links measured under )"
                "{}</a></p>\n",
                entry.id, trust_mark(trusts[index].state), condition,
                now.doubt.empty()
                    ? Html{}
                    : html(R"(<p class="notice bad">{} is {}: <a href="#still">what its links show</a>.</p>)"
                           "\n",
                           entry.id, now.doubt),
                reasons_list(desk, trusts[index].reasons), fact("Taken", time_mark(desk, entry.taken())),
                fact("Method", job::method_words(entry.method)), fact("Kit", kit_text(entry.kit)),
                powers(desk, state, standing), cards, watched(desk, exchange, state, assessment, entry.id),
                url_escaped(entry.id), entry.id);
}

} // namespace guidepin::web
