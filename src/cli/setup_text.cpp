// SPDX-License-Identifier: Apache-2.0
// Set-ups for people: facts, line of light, steps with their advice, methods, kit to bring.
#include "cli/setup_answer.hpp"

#include "base/text.hpp"
#include "cli/print.hpp"
#include "job/sheet/locale.hpp"

#include <map>

#include <fmt/format.h>

namespace guidepin::cli {

namespace {

std::string facts_text(std::vector<report::Said> const& facts)
{
    Table table({{""}, {""}});
    for (report::Said const& said : facts) table.add({said.label, said.text});
    std::string text = table.text();
    return text.substr(text.find('\n') + 1);
}

std::string line_of_light(drawing::LightPath const& path)
{
    auto const end = [](std::optional<drawing::LightEnd> const& each) -> std::string {
        if (!each) return {};
        bool const up = each->kind == plant::EndKind::plug && each->slope == plant::Slope::up;
        return std::string(plant::name_of(each->pins)) + (each->changed ? "!" : "") +
               (up ? " (up-angled)" : "");
    };
    std::string text;
    for (std::size_t i = 0; i < path.bodies.size(); ++i) {
        drawing::LightBody const& body = path.bodies[i];
        std::string const name = body.serial.empty() ? lowered(body.title) : body.serial;
        if (i > 0) {
            drawing::LightJoint const& joint = path.joints[i - 1];
            text += joint.kind == drawing::JointKind::port
                        ? " >< "
                        : fmt::format(" >{}< ", plant::name_of(joint.keys));
        }
        std::string const left = end(body.left), right = end(body.right);
        text += left.empty() ? "" : left + " ";
        text += body.kind == drawing::BodyKind::cabling ? "[" + name + "]" : name;
        text += right.empty() ? "" : " " + right;
    }
    return text;
}

std::string phases_text(job::SetupSheet const& sheet)
{
    std::string text;
    std::map<std::string, int> given; // advice that repeats only names the step that gave it first
    auto const advice = [&](char const* label, std::string const& words, int number) -> std::string {
        if (words.empty()) return {};
        auto const [known, first] = given.emplace(words, number);
        return first ? fmt::format("      {} {}\n", label, words)
                     : fmt::format("      {} as in step {}\n", label, known->second);
    };
    for (job::SheetPhase const& phase : sheet.phases) {
        text += fmt::format("\n{}\n", job::title_of(phase.phase));
        if (phase.path) text += fmt::format("  {}\n", line_of_light(*phase.path));
        if (phase.path && !phase.path->changes.empty())
            text += fmt::format("  new here: {}\n", joined(phase.path->changes, "; "));
        for (report::CardNumber const& number : phase.numbers)
            text +=
                fmt::format("  {}\n    accept {}; refuse {}\n", number.what, number.accept, number.refuse);
        for (setup::Step const& step : phase.steps) {
            text += fmt::format("  {:>2}. {}\n", step.number, step.text);
            text += advice("look for:", step.look_for, step.number);
            text += advice("if not:  ", step.if_not, step.number);
        }
    }
    return text;
}

std::string methods_text(job::SolvedSetup const& solved)
{
    Table table({{"method"},
                 {"pin changes", Align::right},
                 {"matings", Align::right},
                 {"items", Align::right},
                 {"joints hidden", Align::right},
                 {"U, k = 2", Align::right},
                 {""}});
    for (job::MethodRow const& row : solved.methods) {
        std::string const note = row.chosen ? "chosen" : !row.permitted ? "not permitted here" : "";
        std::vector<std::string> cells{setup::name_of(row.shadow.arrangement)};
        if (row.cost) {
            cells.push_back(fmt::format("{}", row.cost->pin_changes));
            cells.push_back(fmt::format("{}", row.cost->reference_matings));
            cells.push_back(fmt::format("{}", row.cost->items));
        } else {
            cells.insert(cells.end(), 3, "-");
        }
        cells.push_back(fmt::format("{}", row.shadow.joints_removed));
        cells.push_back(job::with_decimals(fixed_text(row.expanded_uncertainty.value(), 2), solved.locale) +
                        " dB");
        cells.push_back(row.cost ? note : note + (note.empty() ? "" : ": ") + "not possible with this kit");
        table.add(std::move(cells));
    }
    return table.text();
}

std::string cost_text(setup::JobCost const& cost)
{
    return fmt::format("{} set-up{}, {} reference{}, {} pin change{}", cost.setups,
                       cost.setups == 1 ? "" : "s", cost.references, cost.references == 1 ? "" : "s",
                       cost.pin_changes, cost.pin_changes == 1 ? "" : "s");
}

std::string job_text(job::JobSetups const& all)
{
    std::string text =
        fmt::format("\nWhole job: {}{}\n", cost_text(all.cost),
                    all.exact ? "" : " (many kinds of link: this order is good, perhaps not the best)");
    Table ways({{"another way"},
                {"set-ups", Align::right},
                {"references", Align::right},
                {"pin changes", Align::right},
                {"joints hidden", Align::right}});
    for (setup::JobAlternative const& each : all.alternatives) {
        if (!each.cost) {
            ways.add({each.name, "not possible"});
            continue;
        }
        ways.add({each.name, fmt::format("{}", each.cost->setups), fmt::format("{}", each.cost->references),
                  fmt::format("{}", each.cost->pin_changes),
                  fmt::format("{}", each.most_joints_in_reference)});
    }
    text += ways.text();
    Table kit({{"kit to bring"},
               {"needed", Align::right},
               {"spare", Align::right},
               {"in kit", Align::right},
               {"labels"}});
    for (setup::KitLine const& line : all.kit_list)
        kit.add({line.text, fmt::format("{}", line.needed), fmt::format("{}", line.spare),
                 fmt::format("{}", line.in_kit), joined(line.ids, ", ")});
    text += "\n" + kit.text();
    for (std::string const& remark : all.remarks) text += fmt::format("\n{}\n", remark);
    return text;
}

std::string group_line(FoundSetup const& shown)
{
    return fmt::format("{}\n  {} link{}: {}\n  {}\n", shown.sheet.title, shown.sheet.links.size(),
                       shown.sheet.links.size() == 1 ? "" : "s", job::links_text(shown.sheet.links, 8),
                       shown.group.why);
}

std::string whole_text(FoundSetup const& shown)
{
    std::string text = shown.sheet.title + "\n";
    if (!shown.group.why.empty()) text += fmt::format("  {}\n", shown.group.why);
    text += "\n" + facts_text(shown.sheet.facts) + phases_text(shown.sheet) + "\n" +
            methods_text(shown.group.setup);
    text += "\nCautions\n";
    for (setup::Caution const& caution : setup::cautions()) text += fmt::format("  {}\n", caution.text);
    return text;
}

} // namespace

std::string unsolved_text(std::vector<job::UnsolvedGroup> const& unsolved)
{
    std::string text;
    for (job::UnsolvedGroup const& each : unsolved) {
        text += each.links.empty()
                    ? std::string("No set-up is possible.\n")
                    : fmt::format("No set-up for {} link{}: {}\n", each.links.size(),
                                  each.links.size() == 1 ? "" : "s", job::links_text(each.links, 6));
        for (std::string_view const line : split(each.reason, '\n')) text += fmt::format("  {}\n", line);
        if (!each.remedy.empty()) text += fmt::format("  Borrow or buy: {}.\n", each.remedy);
        for (std::string const& way : each.ways)
            text += fmt::format("  {} {}.\n", each.remedy.empty() ? "Possible:" : "Or:", way);
    }
    return text;
}

std::string setup_text(FoundSetups const& answer)
{
    std::string text;
    for (FoundSetup const& found : answer.groups)
        text += answer.whole ? group_line(found) : whole_text(found);
    text += unsolved_text(answer.unsolved);
    if (answer.whole) {
        text += job_text(*answer.whole);
        text += "\n--group N shows the steps and limits of one set-up; --group N --card FILE.pdf writes its "
                "card\n";
    }
    if (!answer.groups.empty() && !answer.groups.front().sheet.hash.empty())
        text += fmt::format("\nRecorded as {}\n", answer.groups.front().sheet.hash);
    for (std::string const& file : answer.written) text += fmt::format("Written: {}\n", file);
    return text;
}

} // namespace guidepin::cli
