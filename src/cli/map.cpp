// SPDX-License-Identifier: Apache-2.0
// Where each fibre of a chain ends, whether its joints can be made, and whether transmitters reach receivers.
#include "base/text.hpp"
#include "cli/job_world.hpp"
#include "cli/json_output.hpp"
#include "cli/print.hpp"
#include "cli/registry.hpp"
#include "facts/tables.hpp"
#include "plant/map_view.hpp"
#include "plant/ports.hpp"
#include "plant/presets.hpp"

#include <algorithm>
#include <array>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

namespace guidepin::cli {

namespace {

using Json = nlohmann::ordered_json;
using plant::LaneVerdict;
using plant::PortKind;

/// Two ends that name ports: what was judged, and by which lanes.
struct Lanes
{
    bool duplex = false; ///< both ends are duplex equipment: lanes are pairs
    facts::LaneMap const* map = nullptr;
    plant::ParallelVerdict verdict;

    bool holds() const
    {
        return verdict.verdict == LaneVerdict::lane_true || verdict.verdict == LaneVerdict::lanes_permuted;
    }
};

struct Answer
{
    plant::Chain chain;
    std::optional<Lanes> lanes;
    std::string lanes_open; ///< why ports that are named could not be judged
    std::string expected;
    std::optional<plant::Difference> difference;

    bool holds() const
    {
        return chain.joints_ok() && (!lanes || lanes->holds()) && (!difference || difference->none());
    }
};

int connectors_of(plant::ChainEnd const& end)
{
    return static_cast<int>(end.numbered.size());
}

Result<plant::Chain> build(Arguments const& arguments, World const& world)
{
    plant::ChainOptions options;
    TRY_ASSIGN(options.family, plant::parse_family(arguments.text("--family")));
    TRY_ASSIGN(options.face, plant::parse_face(arguments.text("--face")));
    TRY_ASSIGN(options.convention, plant::parse_convention(arguments.text("--pins")));
    if (arguments.has("--fibres")) {
        TRY_ASSIGN(options.fibres, plant::parse_occupancy(arguments.text("--fibres"), options.family));
    }
    options.tables = [&world](std::string const& name) { return job::read_file(path_in(world, name)); };
    TRY_ASSIGN(auto const elements, plant::parse_elements(arguments.texts("ELEMENT")));
    return plant::build_chain(elements, options);
}

Result<facts::LaneMap const*> named_lanes(std::string const& id)
{
    facts::Tables const& tables = facts::built_in_tables();
    if (auto const* const lanes = tables.lane_map(id)) return lanes;
    std::vector<std::string> ids;
    for (facts::LaneMap const& known : tables.lane_maps) ids.push_back(known.id);
    return Error{Errc::usage, fmt::format("--lanes: \"{}\" is not one of {}", id, joined(ids, ", "))};
}

/// The lanes that equipment usually has on this connector: the first enabled row of the tables that fits.
facts::LaneMap const* usual_lanes(plant::Family const& family)
{
    for (facts::LaneMap const& lanes : facts::built_in_tables().lane_maps) {
        if (lanes.fact.enabled && lanes.rows == family.rows && lanes.columns == family.columns) return &lanes;
    }
    return nullptr;
}

/// Every connector of the end carries the same lanes; their numbers go on from one connector to the next.
std::vector<plant::PortUse> uses_of(plant::ChainEnd const& end, facts::LaneMap const* lanes)
{
    std::vector<plant::PortUse> uses;
    for (int connector = 0; connector < connectors_of(end); ++connector) {
        std::vector<plant::PortUse> here;
        if (end.duplex_equipment) {
            // A socket without a fibre behind it is nobody's pair.
            auto const& sockets = end.numbered[static_cast<std::size_t>(connector)];
            here = plant::duplex_uses(sockets.family.positions());
            std::erase_if(here, [&](plant::PortUse const& use) {
                return !sockets.occupied.test(static_cast<std::size_t>(use.place.position - 1));
            });
        } else if (lanes) {
            for (auto const& place : lanes->places)
                here.push_back({{0, place.position}, place.use, place.lane});
        }
        int next = 0;
        for (plant::PortUse const& use : uses) next = std::max(next, use.lane + 1);
        for (plant::PortUse& use : here) {
            use.place.connector = connector;
            use.lane += next;
            uses.push_back(use);
        }
    }
    return uses;
}

bool names_port(plant::ChainEnd const& end)
{
    return end.port == PortKind::parallel || end.duplex_equipment;
}

Outcome judge_ports(Arguments const& arguments, Answer& answer)
{
    auto const& near = answer.chain.near;
    auto const& far = answer.chain.far;
    facts::LaneMap const* asked = nullptr;
    if (arguments.has("--lanes")) {
        TRY_ASSIGN(asked, named_lanes(arguments.text("--lanes")));
        if (near.port != PortKind::parallel && far.port != PortKind::parallel) {
            return Error{
                Errc::usage,
                "--lanes needs the ports in the chain: begin and end it with port:aligned (or port:opposed)"};
        }
    }
    if (!names_port(near) || !names_port(far)) {
        if (names_port(near) || names_port(far))
            answer.lanes_open = "one end has no port: transmitters and receivers are not judged";
        return {};
    }
    Lanes lanes;
    lanes.duplex = near.duplex_equipment && far.duplex_equipment;
    for (plant::ChainEnd const* const end : {&near, &far}) {
        if (end->duplex_equipment) continue;
        plant::Family const& family = end->numbered.front().family;
        facts::LaneMap const* const here = asked ? asked : usual_lanes(family);
        if (!here) {
            answer.lanes_open =
                fmt::format("no usual lanes are known for {}: name them with --lanes", family.name());
            return {};
        }
        if (here->rows != family.rows || here->columns != family.columns) {
            return Error{Errc::usage, fmt::format("--lanes: {} is for {} x {} positions, the port here is {}",
                                                  here->id, here->rows, here->columns, family.name())};
        }
        if (lanes.map && lanes.map != here) {
            answer.lanes_open =
                "the two ports have different connectors: name the lanes of both with --lanes";
            return {};
        }
        lanes.map = here;
    }
    lanes.verdict = plant::judge_lanes(answer.chain.map, uses_of(near, lanes.map), uses_of(far, lanes.map));
    answer.lanes = lanes;
    return {};
}

/// What a chain of this class would be, on the positions that the near end has.
Result<plant::FibreMap> expected_map(std::string const& name, plant::ChainEnd const& near,
                                     plant::ChainEnd const& far)
{
    if (near.numbered.size() != 1 || far.numbered.size() != 1) {
        return Error{
            Errc::usage,
            fmt::format(
                "--expect: \"{}\" compares one connector with one connector; this chain has {} and {}", name,
                near.numbered.size(), far.numbered.size())};
    }
    plant::Family const& first = near.numbered[0].family;
    plant::Family const& last = far.numbered[0].family;
    bool const first_duplex = first.key == plant::Family::Key::duplex;
    bool const last_duplex = last.key == plant::Family::Key::duplex;
    plant::PositionMap map;
    if (first_duplex && last_duplex) {
        TRY_ASSIGN(map, plant::duplex_cord_map(name, first.positions()));
    } else if (first_duplex) {
        TRY_ASSIGN(auto const back, plant::module_map(name, last));
        map = back.inverse();
    } else if (last_duplex) {
        TRY_ASSIGN(map, plant::module_map(name, first));
    } else if (first == last) {
        TRY_ASSIGN(map, plant::cable_map(name, first));
    } else {
        return Error{Errc::usage,
                     fmt::format("--expect: no class leads from {} to {}", first.name(), last.name())};
    }
    return plant::FibreMap(map.restricted_near(near.numbered[0].occupied));
}

Result<Answer> find_answer(Arguments const& arguments, World const& world)
{
    Answer answer;
    TRY_ASSIGN(answer.chain, build(arguments, world));
    TRY(judge_ports(arguments, answer));
    if (arguments.has("--expect")) {
        answer.expected = arguments.text("--expect");
        auto const expected = expected_map(answer.expected, answer.chain.near, answer.chain.far);
        if (!expected)
            return expected.error().code == Errc::usage ? expected.error()
                                                        : expected.error().within("--expect");
        answer.difference = plant::difference(*expected, answer.chain.map);
    }
    return answer;
}

facts::FibreColour const* colour_of(plant::FibreShade const& shade)
{
    for (facts::FibreColour const& colour : facts::built_in_tables().fibre_colours) {
        if (colour.number == shade.colour) return &colour;
    }
    return nullptr;
}

std::string colour_name(plant::FibreShade const& shade)
{
    auto const* const colour = colour_of(shade);
    std::string name = colour ? colour->name : std::to_string(shade.colour);
    if (shade.tracers > 0)
        name += fmt::format(" with {} {}", shade.tracers, shade.tracers == 1 ? "tracer" : "tracers");
    return name;
}

std::string end_text(plant::ChainEnd const& end)
{
    std::vector<std::string> parts;
    for (plant::ConnectorEnd const& connector : end.numbered) {
        bool const duplex = connector.family.key == plant::Family::Key::duplex;
        parts.push_back(fmt::format("{} {}{}", connector.family.name(),
                                    connector.kind == plant::EndKind::port ? "port" : "plug",
                                    duplex ? ""
                                           : fmt::format(", {}, {}", plant::name_of(connector.pins),
                                                         plant::name_of(connector.face))));
    }
    return joined(parts, " + ");
}

// What a lane is called: pairs count from 1 as on the panel, lanes from 0 as in the standards.
std::string lane_text(Lanes const& lanes, plant::LaneOutcome const& outcome)
{
    int const shift = lanes.duplex ? 1 : 0;
    std::string const word = lanes.duplex ? "pair" : "lane";
    switch (outcome.landing) {
    case plant::Landing::dark:
        return fmt::format("Tx of {} {}: dark", word, outcome.lane + shift);
    case plant::Landing::unused:
        return fmt::format("Tx of {} {}: at a position that is not used", word, outcome.lane + shift);
    case plant::Landing::transmit:
        return fmt::format("Tx of {} {}: at the Tx of {} {}", word, outcome.lane + shift, word,
                           outcome.far_lane + shift);
    case plant::Landing::receive:
        break;
    }
    return fmt::format("Tx of {} {}: at the Rx of {} {}", word, outcome.lane + shift, word,
                       outcome.far_lane + shift);
}

bool in_place(plant::LaneOutcome const& outcome)
{
    return outcome.landing == plant::Landing::receive && outcome.lane == outcome.far_lane;
}

std::string lanes_text(Lanes const& lanes)
{
    std::string name = "duplex equipment";
    if (lanes.map) {
        facts::Fact const& fact = lanes.map->fact;
        name = fmt::format("parallel port {} ({}; {} [{}{}])", lanes.map->id, fact.text, fact.source.text(),
                           facts::name_of(fact.basis),
                           fact.basis == facts::Basis::memory
                               ? ": compare it with the equipment's data sheet; --lanes selects other lanes"
                               : "");
    }
    std::string text = fmt::format("{}: {}\n", name, plant::name_of(lanes.verdict.verdict));
    for (bool const forward : {true, false}) {
        for (plant::LaneOutcome const& outcome :
             forward ? lanes.verdict.near_to_far : lanes.verdict.far_to_near) {
            if (!in_place(outcome))
                text += fmt::format("  {}: {}\n", forward ? "near to far" : "far to near",
                                    lane_text(lanes, outcome));
        }
    }
    return text;
}

std::string rows_text(plant::Chain const& chain, World const& world)
{
    Table table({{"near", Align::right}, {"far", Align::right}, {"fibre", Align::left}});
    for (plant::MapRow const& row : plant::map_rows(chain.map, chain.near.numbered)) {
        auto const* const colour = colour_of(row.shade);
        table.add({plant::place_text(row.near, connectors_of(chain.near)),
                   row.far ? plant::place_text(*row.far, connectors_of(chain.far)) : "dark",
                   (world.terminal && colour ? painted(world, "●", colour->rgb) + " " : "") +
                       colour_name(row.shade)});
    }
    return table.text();
}

std::string answer_text(Answer const& answer, World const& world)
{
    plant::Chain const& chain = answer.chain;
    std::string text;
    for (plant::Joint const& joint : chain.joints)
        text += fmt::format("joint: {}\n", plant::joint_text(chain, joint));
    text += fmt::format("{}near: {}\nfar:  {}\n\n{}", chain.joints.empty() ? "" : "\n", end_text(chain.near),
                        end_text(chain.far), rows_text(chain, world));
    std::string const name = chain.class_name();
    if (!name.empty()) text += fmt::format("\nclass: {}\n", name);
    if (answer.difference) {
        text += fmt::format("{}expected {}: {}\n", name.empty() ? "\n" : "", answer.expected,
                            plant::difference_text(*answer.difference, connectors_of(chain.far)));
    }
    if (answer.lanes) text += "\n" + lanes_text(*answer.lanes);
    if (!answer.lanes_open.empty()) text += "\n" + answer.lanes_open + "\n";
    return text;
}

Json place_json(plant::Place place)
{
    return {{"connector", place.connector + 1}, {"position", place.position}};
}

Json places_json(std::vector<plant::Place> const& places)
{
    Json list = Json::array();
    for (plant::Place const place : places) list.push_back(place_json(place));
    return list;
}

Json end_json(plant::ChainEnd const& end)
{
    Json list = Json::array();
    for (plant::ConnectorEnd const& connector : end.numbered) {
        list.push_back({{"family", connector.family.name()},
                        {"fibres", plant::occupancy_text(connector.occupied)},
                        {"kind", connector.kind == plant::EndKind::port ? "port" : "plug"},
                        {"pins", plant::name_of(connector.pins)},
                        {"face", plant::name_of(connector.face)},
                        {"slope", plant::name_of(connector.slope)}});
    }
    return list;
}

Json outcomes_json(std::vector<plant::LaneOutcome> const& outcomes)
{
    Json list = Json::array();
    for (plant::LaneOutcome const& outcome : outcomes) {
        list.push_back({{"lane", outcome.lane},
                        {"from", place_json(outcome.from)},
                        {"to", outcome.to ? place_json(*outcome.to) : Json(nullptr)},
                        {"landing", plant::name_of(outcome.landing)},
                        {"far_lane", outcome.far_lane >= 0 ? Json(outcome.far_lane) : Json(nullptr)}});
    }
    return list;
}

Json joints_json(plant::Chain const& chain)
{
    Json joints = Json::array();
    for (plant::Joint const& joint : chain.joints) {
        Json faults = Json::array();
        for (plant::MateFault const fault : joint.verdict.faults) faults.push_back(plant::name_of(fault));
        joints.push_back(
            {{"left", chain.elements[joint.left].text()},
             {"right", chain.elements[joint.right].text()},
             {"adapter", joint.adapter ? Json(chain.elements[*joint.adapter].text()) : Json(nullptr)},
             {"keys", joint.keys ? Json(plant::name_of(*joint.keys)) : Json(nullptr)},
             {"connector", joint.connector + 1},
             {"ok", joint.verdict.ok()},
             {"may_be_attempted", joint.verdict.may_be_attempted()},
             {"faults", faults},
             {"text", plant::joint_text(chain, joint)}});
    }
    return joints;
}

Json difference_json(Answer const& answer)
{
    if (!answer.difference) return nullptr;
    Json cycles = Json::array();
    for (auto const& cycle : answer.difference->cycles) cycles.push_back(places_json(cycle));
    Json paths = Json::array();
    for (auto const& path : answer.difference->paths) paths.push_back(places_json(path));
    return {{"class", answer.expected},
            {"holds", answer.difference->none()},
            {"cycles", cycles},
            {"paths", paths},
            {"dark", places_json(answer.difference->dark)},
            {"extra", places_json(answer.difference->extra)},
            {"text", plant::difference_text(*answer.difference, connectors_of(answer.chain.far))}};
}

Json ports_json(Answer const& answer)
{
    if (!answer.lanes) return nullptr;
    Lanes const& lanes = *answer.lanes;
    return {{"kind", lanes.duplex ? "duplex" : "parallel"},
            {"lanes", lanes.map ? Json(lanes.map->id) : Json(nullptr)},
            {"basis", lanes.map ? Json(facts::name_of(lanes.map->fact.basis)) : Json(nullptr)},
            {"verdict", plant::name_of(lanes.verdict.verdict)},
            {"holds", lanes.holds()},
            {"near_to_far", outcomes_json(lanes.verdict.near_to_far)},
            {"far_to_near", outcomes_json(lanes.verdict.far_to_near)}};
}

Json answer_json(Answer const& answer)
{
    plant::Chain const& chain = answer.chain;
    Json elements = Json::array();
    for (plant::Element const& element : chain.elements) elements.push_back(element.text());
    Json rows = Json::array();
    for (plant::MapRow const& row : plant::map_rows(chain.map, chain.near.numbered)) {
        rows.push_back({{"near", place_json(row.near)},
                        {"far", row.far ? place_json(*row.far) : Json(nullptr)},
                        {"fibre", colour_name(row.shade)}});
    }
    std::string const name = chain.class_name();
    return {{"elements", elements},
            {"holds", answer.holds()},
            {"joints", joints_json(chain)},
            {"near", end_json(chain.near)},
            {"far", end_json(chain.far)},
            {"map", rows},
            {"class", name.empty() ? Json(nullptr) : Json(name)},
            {"expected", difference_json(answer)},
            {"ports", ports_json(answer)},
            {"ports_open", answer.lanes_open}};
}

Result<int> run_map(Arguments const& arguments, World& world)
{
    TRY_ASSIGN(Answer const answer, find_answer(arguments, world));
    world.out += world.json ? answer_json(answer).dump(2, ' ', false, damaged_text) + "\n"
                            : answer_text(answer, world);
    return answer.holds() ? 0 : 1;
}

constexpr std::array map_options{
    Option{"ELEMENT", "",
           "the parts of the light's path, in order: port:aligned cord:B adapter:opposed trunk:A module:U1 "
           "cord:FILE.toml (docs/formats/elements.md)",
           true, true},
    Option{"--family", "F",
           "connector family of elements that do not name one: mpo-12, mpo-24, mpo-16, mpo-32", false, false,
           "mpo-12"},
    Option{"--fibres", "P", "positions that carry fibres: 12, 8-outer, 1-4,9-12 … (default: all)"},
    Option{"--face", "FACE", "end face of elements that do not name one", false, false, "flat",
           "flat,angled"},
    Option{"--pins", "C", "which side has pins if an element does not say", false, false, "fixed-pinned",
           "fixed-pinned,modules-pinned"},
    Option{"--expect", "CLASS", "class that the whole chain should have: A, B, C, I-A … or a module's type"},
    Option{"--lanes", "ID",
           "lanes of the parallel ports: P4, P8, P10, P16 … (default: the usual ones of the family)"},
};

} // namespace

Command const map_command{
    "map",
    "Follow each fibre through a chain of cords, adapters, trunks and modules",
    "Shows for each joint whether it can be made, where each position ends, the class of the whole chain, "
    "how it differs from the expected class, and, if the chain names ports, whether transmitters reach "
    "receivers. Exit code 1 when a joint or the expectation fails, or a transmitter reaches no receiver.",
    "map port:aligned cord:B adapter:opposed trunk:B adapter:opposed cord:B port:aligned --lanes P4",
    map_options,
    &run_map};

} // namespace guidepin::cli
