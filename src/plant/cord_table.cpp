// SPDX-License-Identifier: Apache-2.0
#include "plant/cord_table.hpp"

#include "base/text.hpp"
#include "base/toml_guard.hpp"

#include "base/toml.hpp"
#include <fmt/format.h>

#include <algorithm>

namespace guidepin::plant {

namespace {

struct Problems
{
    std::string name;
    std::vector<std::string> lines;

    void add(toml::source_region const& where, std::string const& what)
    {
        lines.push_back(fmt::format("{}: line {}: {}", name, where.begin.line, what));
    }
};

std::optional<std::string> string_of(toml::table const& table, std::string_view key, Problems& problems)
{
    toml::node const* node = table.get(key);
    if (!node) return std::nullopt;
    if (auto const* text = node->as_string()) return text->get();
    problems.add(node->source(), fmt::format("'{}' must be a text in quotes", key));
    return std::nullopt;
}

void refuse_unknown_keys(toml::table const& table, std::vector<std::string> const& known, Problems& problems)
{
    for (auto const& entry : table) {
        std::string const key{entry.first.str()};
        if (std::find(known.begin(), known.end(), key) != known.end()) continue;
        problems.add(entry.second.source(), fmt::format("'{}' is not one of {}{}", key, joined(known, ", "),
                                                        did_you_mean(key, known)));
    }
}

/// Takes the value of a Result or notes its message.
template <class T>
std::optional<T> taken(Result<T> result, toml::source_region const& where, Problems& problems)
{
    if (result) return std::move(result).value();
    problems.add(where, result.error().message);
    return std::nullopt;
}

EndStatement read_end(toml::table const& table, bool& fibres_stated, Problems& problems)
{
    EndStatement end;
    fibres_stated = false;
    refuse_unknown_keys(table, {"family", "fibres", "pins", "face", "slope"}, problems);
    auto const where = table.source();
    if (auto const family = string_of(table, "family", problems)) {
        end.family = taken(parse_family(*family), where, problems).value_or(Family{});
    } else {
        problems.add(where, "a connector needs its family, as in family = \"mpo-12\"");
    }
    if (auto const fibres = string_of(table, "fibres", problems)) {
        end.occupied = taken(parse_occupancy(*fibres, end.family), where, problems).value_or(Occupancy{});
        fibres_stated = true;
    }
    if (auto const pins = string_of(table, "pins", problems))
        end.pins = taken(parse_pins(*pins), where, problems);
    if (auto const face = string_of(table, "face", problems))
        end.face = taken(parse_face(*face), where, problems);
    if (auto const slope = string_of(table, "slope", problems)) {
        if (*slope == "down" || *slope == "up") {
            end.slope = *slope == "down" ? Slope::down : Slope::up;
        } else {
            problems.add(where, fmt::format("slope '{}' is not one of down, up", *slope));
        }
    }
    return end;
}

std::vector<EndStatement> read_ends(toml::table const& root, std::string_view key, std::vector<bool>& stated,
                                    Problems& problems)
{
    std::vector<EndStatement> ends;
    toml::array const* array = root.get_as<toml::array>(key);
    if (!array || array->empty()) {
        problems.add(root.source(), fmt::format("no connector at the {0} end; begin each with [[{0}]]", key));
        return ends;
    }
    if (array->size() > static_cast<std::size_t>(max_connectors)) {
        problems.add(array->source(), fmt::format("{} connectors at the {} end; at most {}", array->size(),
                                                  key, max_connectors));
        return ends;
    }
    for (toml::node const& node : *array) {
        toml::table const* table = node.as_table();
        if (!table) {
            problems.add(node.source(), fmt::format("'{}' must be tables: [[{}]]", key, key));
            continue;
        }
        bool fibres = false;
        ends.push_back(read_end(*table, fibres, problems));
        stated.push_back(fibres);
    }
    return ends;
}

/// "2:1-4,9" -> places in the order written; ranges may run backwards.
std::optional<std::vector<Place>> read_places(std::string_view text, std::vector<EndStatement> const& ends,
                                              char const* side, toml::source_region const& where,
                                              Problems& problems)
{
    text = trimmed(text);
    int connector = 0;
    std::size_t const colon = text.find(':');
    if (colon != std::string_view::npos) {
        auto const number = parse_integer(trimmed(text.substr(0, colon)));
        if (!number || *number < 1 || *number > static_cast<std::int64_t>(ends.size())) {
            problems.add(where, fmt::format("connector '{}' of the {} end is not one of 1 to {}",
                                            trimmed(text.substr(0, colon)), side, ends.size()));
            return std::nullopt;
        }
        connector = static_cast<int>(*number) - 1;
        text = text.substr(colon + 1);
    } else if (ends.size() > 1) {
        problems.add(where, fmt::format("the {} end has {} connectors: write which, as in '1:{}'", side,
                                        ends.size(), text));
        return std::nullopt;
    }
    int const positions = ends[static_cast<std::size_t>(connector)].family.positions();
    std::vector<Place> places;
    for (std::string_view const part : split(text, ',')) {
        std::size_t const dash = part.find('-');
        auto const first = parse_integer(trimmed(part.substr(0, dash)));
        auto const last =
            dash == std::string_view::npos ? first : parse_integer(trimmed(part.substr(dash + 1)));
        if (!first || !last || *first < 1 || *last < 1 || *first > positions || *last > positions) {
            problems.add(where, fmt::format("'{}' is no position or range within 1 to {} of the {} end",
                                            trimmed(part), positions, side));
            return std::nullopt;
        }
        int const step = *first <= *last ? 1 : -1;
        for (int p = static_cast<int>(*first);; p += step) {
            places.push_back(Place{connector, p});
            if (p == static_cast<int>(*last)) break;
        }
        if (places.size() > static_cast<std::size_t>(max_positions)) {
            problems.add(where, fmt::format("more than {} positions in one row of the map", max_positions));
            return std::nullopt;
        }
    }
    return places;
}

void read_row(std::string const& row, CordTable& table, toml::source_region const& where, Problems& problems)
{
    std::size_t const arrow = row.find("->");
    if (arrow == std::string::npos) {
        problems.add(where, fmt::format("'{}' has no '->' between near and far", row));
        return;
    }
    std::string_view const view{row};
    auto const near = read_places(view.substr(0, arrow), table.near, "near", where, problems);
    auto const far = read_places(view.substr(arrow + 2), table.far, "far", where, problems);
    if (!near || !far) return;
    if (near->size() != far->size()) {
        problems.add(where,
                     fmt::format("'{}' has {} near and {} far positions", row, near->size(), far->size()));
        return;
    }
    for (std::size_t i = 0; i < near->size(); ++i) {
        if (table.map.connect((*near)[i], (*far)[i])) continue;
        int const connectors = static_cast<int>(std::max(table.near.size(), table.far.size()));
        problems.add(where,
                     fmt::format("'{}': near {} or far {} is used twice", row,
                                 place_text((*near)[i], connectors), place_text((*far)[i], connectors)));
        return;
    }
}

void settle_occupancy(std::vector<EndStatement>& ends, std::vector<bool> const& stated,
                      std::vector<Place> const& used, char const* side, toml::source_region const& where,
                      Problems& problems)
{
    for (std::size_t i = 0; i < ends.size(); ++i) {
        Occupancy from_map;
        for (Place const place : used) {
            if (place.connector == static_cast<int>(i))
                from_map.set(static_cast<std::size_t>(place.position - 1));
        }
        if (!stated[i]) {
            ends[i].occupied = from_map;
        } else if ((from_map & ~ends[i].occupied).any()) {
            problems.add(where,
                         fmt::format("the map uses positions {} of {} connector {}, outside its fibres {}",
                                     occupancy_text(from_map & ~ends[i].occupied), side, i + 1,
                                     occupancy_text(ends[i].occupied)));
        }
    }
}

} // namespace

Result<CordTable> parse_cord_table(std::string_view name, std::string_view text)
{
    Problems problems{std::string{name}, {}};
    CordTable table;
    if (auto const fault = toml_fault(text)) {
        return Error{Errc::invalid_input, fmt::format("{}: line {}: {}", name, fault->line, fault->reason)};
    }
    try {
        toml::table const root = toml::parse(text, std::string{name});
        refuse_unknown_keys(root, {"name", "near", "far", "map"}, problems);
        table.name = string_of(root, "name", problems).value_or(std::string{name});
        std::vector<bool> near_stated;
        std::vector<bool> far_stated;
        table.near = read_ends(root, "near", near_stated, problems);
        table.far = read_ends(root, "far", far_stated, problems);
        table.map = FibreMap{static_cast<int>(table.near.size()), static_cast<int>(table.far.size())};
        toml::array const* rows = root.get_as<toml::array>("map");
        if (!rows || rows->empty()) {
            problems.add(root.source(), "no map; write map = [\"1-12 -> 12-1\"] before the first [[near]]");
        } else if (!table.near.empty() && !table.far.empty()) {
            for (toml::node const& node : *rows) {
                if (auto const* row = node.as_string()) {
                    read_row(row->get(), table, node.source(), problems);
                } else {
                    problems.add(node.source(), "a row of the map must be a text such as \"1-12 -> 12-1\"");
                }
            }
            settle_occupancy(table.near, near_stated, table.map.near_places(), "near", rows->source(),
                             problems);
            settle_occupancy(table.far, far_stated, table.map.far_places(), "far", rows->source(), problems);
        }
    } catch (toml::parse_error const& error) {
        return Error{Errc::invalid_input,
                     fmt::format("{}: line {}: {}", name, error.source().begin.line, error.description())};
    }
    if (!problems.lines.empty()) return Error{Errc::invalid_input, joined(problems.lines, "\n")};
    return table;
}

CordTable reversed(CordTable const& table)
{
    return CordTable{table.name, table.far, table.near, table.map.inverse()};
}

} // namespace guidepin::plant
