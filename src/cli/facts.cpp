// SPDX-License-Identifier: Apache-2.0
// The values behind every verdict, with where each comes from.
#include "base/text.hpp"
#include "cli/json_output.hpp"
#include "cli/registry.hpp"
#include "facts/listing.hpp"

#include <array>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

namespace guidepin::cli {

namespace {

using Json = nlohmann::ordered_json;

Json fact_json(facts::Fact const& fact)
{
    return {{"id", fact.id},
            {"quantity", fact.quantity},
            {"value", fact.text.empty() ? Json(fact.value) : Json(fact.text)},
            {"unit", fact.unit},
            {"condition", fact.condition},
            {"source",
             {{"document", fact.source.document},
              {"edition", fact.source.edition},
              {"clause", fact.source.clause}}},
            {"basis", facts::name_of(fact.basis)},
            {"enabled", fact.enabled},
            {"note", fact.note},
            {"caution", facts::caution_text(fact)}};
}

Result<int> run_facts(Arguments const& arguments, World& world)
{
    facts::Tables const& tables = facts::built_in_tables();
    std::string const pattern = joined(arguments.texts("PATTERN"), " ");
    auto const found = facts::matching_facts(tables, pattern);
    auto const counts = facts::count_by_basis(found);
    if (found.empty()) {
        std::vector<std::string> ids;
        for (facts::Fact const& fact : tables.facts) ids.push_back(fact.id);
        return Error{Errc::not_found,
                     fmt::format("None of the {} facts contains \"{}\"{} A pattern is words, or an id with "
                                 "* and ?; without a pattern the command lists all facts.",
                                 tables.facts.size(), pattern, did_you_mean(pattern, ids, "."))};
    }
    if (world.json) {
        Json listed = Json::array();
        for (facts::Fact const* const fact : found) listed.push_back(fact_json(*fact));
        Json by_basis = Json::object();
        for (auto const& [basis, count] : counts) by_basis[facts::name_of(basis)] = count;
        world.out += Json{{"tables", tables.version},
                          {"count", found.size()},
                          {"by_basis", by_basis},
                          {"facts", listed}}
                         .dump(2, ' ', false, damaged_text) +
                     "\n";
        return 0;
    }
    world.out += facts::facts_listing(found);
    std::vector<std::string> parts;
    for (auto const& [basis, count] : counts)
        parts.push_back(fmt::format("{} {}", count, facts::name_of(basis)));
    world.out += fmt::format("\n{} {} ({}); tables {}\n", found.size(), found.size() == 1 ? "fact" : "facts",
                             joined(parts, ", "), tables.version);
    return 0;
}

constexpr std::array facts_options{
    Option{"PATTERN", "", "words that the fact contains; a word with * or ? must match the whole id", false,
           true},
};

} // namespace

Command const facts_command{
    "facts",
    "List the published values, each with source and basis",
    "Every number that decides a verdict is in the tables with document, edition, clause and basis. Values "
    "with the basis \"memory\" were recalled, not read in a printed copy; replace them with your own rule "
    "set or overrides (docs/formats/rule-set.md).",
    "facts OM4 850",
    facts_options,
    &run_facts};

} // namespace guidepin::cli
