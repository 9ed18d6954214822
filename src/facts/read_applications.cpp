// SPDX-License-Identifier: Apache-2.0
// Applications, the lanes of their ports, and their reflectance rules.
#include "base/text.hpp"
#include "facts/readers.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>

namespace guidepin::facts {
namespace {

/// The longest cabled reach of these tables is 40 km; a length in kilometres or feet would show.
constexpr Expected length_range{"m", 1, 200000};
constexpr Expected loss_range{"dB", 0.1, 40};
constexpr Expected reflectance_range{"dB", -80, -10};

std::string words_of(std::vector<int> const& numbers)
{
    std::vector<std::string> words;
    for (int const number : numbers) words.push_back(fmt::format("{}", number));
    return joined(words, ", ");
}

void read_limits(Section& row, Sources const& sources, Gathering& into, Application& application)
{
    for (auto& inner : row.tables("limit")) {
        ApplicationLimit limit;
        limit.category = inner.text("category");
        std::string const variant = inner.optional_text("variant");
        bool const weak = inner.optional_flag("weak", false);
        if (!limit.category.empty() && !into.tables().category(limit.category)) {
            inner.say(into.tables().category(limit.category).error().message);
        }
        auto const id = fmt::format("application.{}.{}{}{}", application.id, limit.category,
                                    variant.empty() ? "" : ".", variant);
        auto length = read_fact_member(
            inner, "length", sources, id + ".length",
            fmt::format("{} on {}, longest channel", application.name, limit.category), length_range);
        auto loss = read_optional_fact_member(
            inner, "loss", sources, id + ".loss",
            fmt::format("{} on {}, largest channel insertion loss", application.name, limit.category),
            loss_range);
        inner.finish();
        if (!length) continue;
        if (weak) {
            length->enabled = false;
            if (loss) loss->enabled = false;
        }
        into.add(inner, *length);
        if (loss) into.add(inner, *loss);
        limit.length = *length;
        limit.loss = loss;
        auto const same = [&](ApplicationLimit const& other) { return other.category == limit.category; };
        if (!weak && std::any_of(application.limits.begin(), application.limits.end(), same)) {
            inner.say(fmt::format("{} is given twice; keep one", limit.category));
        }
        (weak ? application.weak_limits : application.limits).push_back(std::move(limit));
    }
}

LaneOrder read_lane_order(Section& row)
{
    std::string const order = row.text("lane-order");
    if (order == "any") return LaneOrder::any;
    if (!order.empty() && order != "as-numbered")
        row.say(fmt::format("`lane-order` is \"{}\"; it is one of any, as-numbered", order));
    return LaneOrder::as_numbered;
}

} // namespace

void read_applications(Section& file, Sources const& sources, Gathering& into)
{
    constexpr std::array<std::string_view, 5> families{"mpo-12", "mpo-16", "mpo-24", "mpo-32", "duplex"};
    constexpr std::array<std::string_view, 3> faces{"flat", "angled", "any"};
    for (auto& row : file.tables("application")) {
        Application application;
        application.id = row.text("id");
        application.name = row.text("name");
        application.aliases = row.optional_texts("aliases");
        application.rate_gbps = row.number("rate-gbps").value_or(0);
        application.line_rate = row.text("line-rate");
        application.lanes = row.whole("lanes", 1, 64).value_or(0);
        application.fibres = row.whole("fibres", 1, 64).value_or(0);
        application.lane_maps = row.texts("maps");
        if (!application.lane_maps.empty()) application.lane_map = application.lane_maps.front();
        for (auto const& map : application.lane_maps) {
            if (!into.tables().lane_map(map)) row.say(fmt::format("no lane map `{}` in the tables", map));
        }
        application.family = row.text("family");
        if (std::find(families.begin(), families.end(), application.family) == families.end()) {
            row.say("`family` is none of mpo-12, mpo-16, mpo-24, mpo-32, duplex");
        }
        // A duplex channel has one lane in each direction.
        if (application.family != "duplex") application.lane_order = read_lane_order(row);
        application.face = row.text("face");
        if (std::find(faces.begin(), faces.end(), application.face) == faces.end()) {
            row.say("`face` is none of flat, angled, any");
        }
        application.wavelengths_nm =
            row.whole_numbers("wavelengths", shortest_wavelength, longest_wavelength);
        application.reflectance_rule = row.text("reflectance");
        if (!application.reflectance_rule.empty() &&
            !into.tables().reflectance_rule(application.reflectance_rule)) {
            row.say(fmt::format("no reflectance rule `{}` in the tables", application.reflectance_rule));
        }
        application.note = row.optional_text("note");
        application.enabled = row.optional_flag("enabled", true);
        auto const source = read_source(row, sources);
        auto const basis = read_basis(row);
        if (source && basis) {
            application.source = *source;
            application.standard = source->text();
            application.basis = *basis;
            Fact identity;
            identity.id = "application." + application.id;
            identity.quantity = application.name;
            identity.text =
                fmt::format("{} Gb/s, {}, {} fibres on {} ({} face), positions {}, loss read at {} nm, "
                            "reflectance rule {}",
                            number_text(application.rate_gbps), application.line_rate, application.fibres,
                            application.family, application.face, joined(application.lane_maps, " or "),
                            words_of(application.wavelengths_nm), application.reflectance_rule);
            identity.source = *source;
            identity.basis = *basis;
            identity.note = application.note;
            identity.enabled = application.enabled;
            into.add(row, identity);
        }
        application.minimum_loss = read_optional_fact_member(
            row, "minimum-loss", sources, "application." + application.id + ".minimum-loss",
            application.name + ", smallest channel insertion loss", loss_range);
        if (application.minimum_loss) into.add(row, *application.minimum_loss);
        read_limits(row, sources, into, application);
        row.finish();
        if (application.limits.empty() && application.weak_limits.empty())
            row.say("no [[application.limit]]");
        into.tables().applications.push_back(std::move(application));
    }
}

void read_ports(Section& file, Sources const& sources, Gathering& into)
{
    for (auto& row : file.tables("lane-map")) {
        LaneMap map;
        map.id = row.text("id");
        map.rows = row.whole("rows", 1, 2).value_or(1);
        map.columns = row.whole("columns", 2, 16).value_or(12);
        int const positions = map.rows * map.columns;
        std::set<int> seen;
        auto const take = [&](std::string_view key, char use) {
            int lane = 0;
            for (int const position : row.optional_whole_numbers(key, 1, positions)) {
                if (!seen.insert(position).second)
                    row.say(fmt::format("position {} is given twice", position));
                map.places.push_back(LaneMap::Place{position, use, lane++});
            }
            return lane;
        };
        int const transmitting = take("transmit", 't');
        int const receiving = take("receive", 'r');
        // Both directions on every fibre: the second list is where the other end of each lane sits.
        int const near = take("both", 'b');
        int const far = take("both-far", 'b');
        if (transmitting != receiving || near != far || seen.empty()) {
            row.say("`transmit` and `receive` (or `both` and `both-far`) need one position for each lane");
        }
        auto const fact = read_fact(row, sources, "port." + map.id, "Positions of " + map.id, Expected{""});
        row.finish();
        if (!fact) continue;
        into.add(row, *fact);
        map.fact = *fact;
        into.tables().lane_maps.push_back(std::move(map));
    }
}

void read_reflectance(Section& file, Sources const& sources, Gathering& into)
{
    for (auto& row : file.tables("rule")) {
        ReflectanceRule rule;
        rule.id = row.text("id");
        rule.each =
            read_optional_fact_member(row, "each", sources, fmt::format("reflectance.{}.each", rule.id),
                                      "Largest reflectance of each connection", reflectance_range);
        if (rule.each) into.add(row, *rule.each);
        if (auto const counted = read_optional_fact_member(
                row, "counted-above", sources, fmt::format("reflectance.{}.counted-above", rule.id),
                "Reflectances above this are counted", reflectance_range)) {
            rule.counted_above_db = counted->value;
            into.add(row, *counted);
        }
        for (auto& inner : row.tables("count")) {
            auto const count = inner.whole("count", 1, 64);
            auto const fact =
                read_fact(inner, sources, fmt::format("reflectance.{}.count-{}", rule.id, count.value_or(0)),
                          fmt::format("Largest reflectance of each of {} connections", count.value_or(0)),
                          reflectance_range);
            inner.finish();
            if (!fact || !count) continue;
            into.add(inner, *fact);
            rule.by_count.emplace(*count, *fact);
        }
        rule.unknown = row.optional_text("unknown");
        row.finish();
        if (!rule.each && rule.by_count.empty() && rule.unknown.empty()) {
            row.say("says nothing: give `each`, [[rule.count]] or `unknown`");
        }
        into.tables().reflectance_rules.push_back(std::move(rule));
    }
}

} // namespace guidepin::facts
