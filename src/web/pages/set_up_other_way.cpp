// SPDX-License-Identifier: Apache-2.0
// Another way to do a set-up: other pins, another method, another kit, and what it changes.
#include "web/pages/set_up_parts.hpp"

#include <array>

#include <fmt/format.h>

namespace guidepin::web {

namespace {

constexpr std::array all_methods{Choice{"", "the job's"},
                                 Choice{"one-cord", "one-cord reference"},
                                 Choice{"changer", "reference with a changer cord"},
                                 Choice{"two-cord", "two-cord reference"},
                                 Choice{"three-cord", "three-cord reference"},
                                 Choice{"one-cord,changer,two-cord,three-cord", "any of them"}};
constexpr std::array pin_choices{Choice{"pinned", "pinned"}, Choice{"unpinned", "unpinned"}};
constexpr std::array meter_choices{Choice{"pinned", "pinned"}, Choice{"unpinned", "unpinned"},
                                   Choice{"neutral", "touches no plug"}};
constexpr std::array face_choices{Choice{"flat", "flat"}, Choice{"angled", "angled"}};
constexpr std::array key_choices{Choice{"opposed", "opposed keys"}, Choice{"aligned", "aligned keys"},
                                 Choice{"bare", "bare plug"}};
constexpr std::array family_choices{Choice{"mpo-12", "MPO-12"}, Choice{"mpo-24", "MPO-24"},
                                    Choice{"mpo-16", "MPO-16"}, Choice{"mpo-32", "MPO-32"}};
constexpr std::array kit_scopes{Choice{"complete", "any kit"}, Choice{"job", "the job's kit"}};

} // namespace

std::span<Choice const> method_choices()
{
    return all_methods;
}

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
    return html(R"(<form method="get" action="/set-up" class="filters">)"
                R"(<input type="hidden" name="other" value="1">)"
                R"(<input type="hidden" name="group" value="{}">)"
                "\n{}{}{}{}{}{}{}{}{}{}<button>Show what changes</button></form>\n",
                like ? like->number : 1,
                choice_of("source", "Source's port", pin_choices, given("source", source)),
                choice_of("meter", "Meter's port", meter_choices, given("meter", meter)),
                choice_of("first", "Cabling, launch end", pin_choices, given("first", first)),
                choice_of("second", "Cabling, far end", pin_choices, given("second", second)),
                choice_of("first-keys", "Adapter, launch end", key_choices, given("first-keys", first_keys)),
                choice_of("second-keys", "Adapter, far end", key_choices, given("second-keys", second_keys)),
                choice_of("face", "End faces", face_choices, given("face", face)),
                choice_of("family", "Connector", family_choices, given("family", family)),
                choice_of("method", "Method", method_choices().subspan(1), given("method", "one-cord")),
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
    return html("{}<h2>{}</h2>{}", changes, sheet.title, set_up_details(sheet, *answer.solved));
}

} // namespace guidepin::web
