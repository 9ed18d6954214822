// SPDX-License-Identifier: Apache-2.0
// Set-ups for programs: docs/schemas/setup.json.
#include "cli/setup_answer.hpp"

namespace guidepin::cli {

using Json = nlohmann::ordered_json;

namespace {

Json cost_json(setup::JobCost const& cost)
{
    return {{"setups", cost.setups},
            {"references", cost.references},
            {"pin_changes", cost.pin_changes},
            {"reference_matings", cost.reference_matings}};
}

Json cost_json(setup::Cost const& cost)
{
    return {{"pin_changes", cost.pin_changes},
            {"reference_matings", cost.reference_matings},
            {"items", cost.items}};
}

Json map_json(plant::PositionMap const& map)
{
    Json list = Json::array();
    for (int p = 1; p <= plant::max_positions; ++p) {
        if (map.at(p) > 0) list.push_back({p, map.at(p)});
    }
    return list;
}

Json cord_json(job::SolvedSetup const& solved, std::optional<setup::CordUse> const& use)
{
    if (!use) return nullptr;
    return solved.question.kit.cords[static_cast<std::size_t>(use->cord)].id;
}

Json group_json(FoundSetup const& shown)
{
    job::SolvedSetup const& solved = shown.group.setup;
    Json links = Json::array();
    for (setup::GroupedLink const& link : shown.group.links)
        links.push_back({{"link", link.id}, {"launch_end", link.from_end_b ? "b" : "a"}});
    Json maps = Json::array();
    for (job::ShownFor const& each : solved.shown) {
        maps.push_back({{"links", each.links},
                        {"cabling", each.map.cabling_class},
                        {"shown", each.map.shown_class},
                        {"same_numbers", each.map.same_numbers},
                        {"text", each.map.text},
                        {"cabling_map", map_json(each.map.expected)},
                        {"shown_map", map_json(each.map.shown)}});
    }
    Json checks = Json::array();
    for (job::CheckNumbers const& each : solved.checks) {
        checks.push_back({{"wavelength_nm", each.wavelength.value()},
                          {"expected_least_db", each.expected_least.value()},
                          {"expected_most_db", each.expected_most.value()},
                          {"refused_below_db", each.refused_below.value()},
                          {"good_up_to_db", each.good_up_to.value()},
                          {"refused_above_db", each.refused_above.value()},
                          {"arithmetic", each.arithmetic},
                          {"rests_on_memory", each.rests_on_memory}});
    }
    Json methods = Json::array();
    for (job::MethodRow const& row : solved.methods) {
        methods.push_back({{"method", setup::name_of(row.shadow.arrangement)},
                           {"chosen", row.chosen},
                           {"permitted", row.permitted},
                           {"cost", row.cost ? cost_json(*row.cost) : Json(nullptr)},
                           {"blocker", row.blocker},
                           {"joints_hidden", row.shadow.joints_removed},
                           {"expanded_uncertainty_db", row.expanded_uncertainty.value()},
                           {"hides", row.shadow.hides},
                           {"check_tells", row.shadow.check_tells}});
    }
    Json facts = Json::array();
    for (report::Said const& said : shown.sheet.facts)
        facts.push_back({{"label", said.label}, {"text", said.text}});
    auto const body = job::setup_body(shown.sheet);
    return {{"number", shown.group.number > 0 ? Json(shown.group.number) : Json(nullptr)},
            {"title", shown.sheet.title},
            {"links", links},
            {"new_reference", shown.group.new_reference},
            {"why", shown.group.why},
            {"method", setup::name_of(solved.plan.arrangement)},
            {"check", setup::name_of(solved.plan.check)},
            {"cost", cost_json(solved.plan.cost)},
            {"instruments", {{"source", solved.source_serial}, {"meter", solved.meter_serial}}},
            {"kit_assumed", solved.kit_assumed},
            {"decisions", solved.decisions},
            {"cords",
             {{"launch", cord_json(solved, solved.plan.launch)},
              {"tail", cord_json(solved, solved.plan.tail)},
              {"extra", cord_json(solved, solved.plan.extra)},
              {"known", cord_json(solved, solved.plan.known)}}},
            {"counting",
             {{"end_connections", solved.counting.end_connections_present},
              {"joints_removed", solved.counting.joints_removed},
              {"cord_grade", facts::name_of(solved.counting.grade)}}},
            {"shown_maps", maps},
            {"shown_missing", solved.shown_missing},
            {"cord_check", checks},
            {"cord_check_missing", solved.checks_missing},
            {"methods", methods},
            {"facts", facts},
            {"phases", body ? Json::parse(*body)["phases"] : Json::array()},
            {"record", shown.sheet.hash.empty() ? Json(nullptr) : Json(shown.sheet.hash)}};
}

} // namespace

Json setup_json(FoundSetups const& answer)
{
    Json groups = Json::array();
    for (FoundSetup const& shown : answer.groups) groups.push_back(group_json(shown));
    Json unsolved = Json::array();
    for (job::UnsolvedGroup const& each : answer.unsolved)
        unsolved.push_back({{"links", each.links},
                            {"reason", each.reason},
                            {"remedy", each.remedy.empty() ? Json(nullptr) : Json(each.remedy)},
                            {"ways", each.ways}});
    Json kit = Json::array();
    Json ways = Json::array();
    Json remarks = Json::array();
    if (answer.whole) {
        for (setup::KitLine const& line : answer.whole->kit_list)
            kit.push_back({{"what", line.text},
                           {"needed", line.needed},
                           {"spare", line.spare},
                           {"in_kit", line.in_kit},
                           {"labels", line.ids},
                           {"why", line.why}});
        for (setup::JobAlternative const& each : answer.whole->alternatives)
            ways.push_back({{"name", each.name},
                            {"cost", each.cost ? cost_json(*each.cost) : Json(nullptr)},
                            {"most_joints_hidden", each.most_joints_in_reference},
                            {"blocker", each.blocker}});
        remarks = answer.whole->remarks;
    }
    return {{"groups", groups},
            {"unsolved", unsolved},
            {"cost", answer.whole ? cost_json(answer.whole->cost) : Json(nullptr)},
            {"exact", answer.whole ? answer.whole->exact : true},
            {"kit_list", kit},
            {"alternatives", ways},
            {"remarks", remarks},
            {"written", answer.written}};
}

} // namespace guidepin::cli
