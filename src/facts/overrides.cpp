// SPDX-License-Identifier: Apache-2.0
#include "facts/overrides.hpp"

#include "base/hash.hpp"
#include "base/text.hpp"
#include "facts/readers.hpp"

#include <fmt/format.h>

namespace guidepin::facts {
namespace {

using ById = std::map<std::string, Fact, std::less<>>;

/// Visits every copy of a fact: the one in the flat list and those that computations use.
template <class Act>
void each_copy(RuleSet& rules, Act act)
{
    for (auto& row : rules.coefficients) act(row.fact);
    for (auto& [key, fact] : rules.end_connection) act(fact);
    for (auto& [key, fact] : rules.reference_joint) act(fact);
    act(rules.inner_connection);
    act(rules.splice);
    for (auto& [kind, list] : rules.wavelengths) {
        for (auto& wavelength : list) act(wavelength.fact);
    }
}

template <class Act>
void each_copy(Application& application, Act act)
{
    if (application.minimum_loss) act(*application.minimum_loss);
    for (auto* const list : {&application.limits, &application.weak_limits}) {
        for (auto& limit : *list) {
            act(limit.length);
            if (limit.loss) act(*limit.loss);
        }
    }
}

template <class Act>
void each_copy(Tables& tables, Act act)
{
    for (auto& fact : tables.facts) act(fact);
    for (auto& category : tables.categories) {
        for (auto& [wavelength, fact] : category.group_index) act(fact);
    }
    for (auto& rules : tables.rule_sets) each_copy(rules, act);
    for (auto& application : tables.applications) each_copy(application, act);
    for (auto& rule : tables.reflectance_rules) {
        if (rule.each) act(*rule.each);
        for (auto& [count, fact] : rule.by_count) act(fact);
    }
    for (auto& grade : tables.grades) {
        act(grade.mean);
        act(grade.p97);
    }
    for (auto& contribution : tables.uncertainty) {
        for (auto& [key, fact] : contribution.value) act(fact);
        for (auto& [key, fact] : contribution.least) act(fact);
    }
}

ById read_overrides(Section& file, Sources const& sources, Tables const& tables)
{
    ById overrides;
    for (auto& row : file.tables("fact")) {
        std::string const id = row.text("id");
        Fact const* const old = tables.fact(id);
        if (!old) {
            std::vector<std::string> known;
            for (auto const& fact : tables.facts) known.push_back(fact.id);
            row.say(fmt::format("no fact `{}`{}", id, did_you_mean(id, known)));
            continue;
        }
        if (!old->text.empty()) {
            row.say(fmt::format("`{}` is words (\"{}\"); only numbers can be replaced", id, old->text));
            continue;
        }
        // The sign stays as it is: a reflectance given as return loss would turn a limit round.
        Expected expected{old->unit};
        if (old->value > 0) expected.lowest = 0;
        if (old->value < 0) expected.highest = 0;
        auto fact = read_fact(row, sources, id, old->quantity, expected);
        row.finish();
        if (!fact) continue;
        if (!fact->enabled) row.say("`enabled` cannot be replaced");
        fact->enabled = old->enabled;
        if (fact->condition.empty()) fact->condition = old->condition;
        if (!overrides.emplace(id, *fact).second) row.say(fmt::format("`{}` is given twice; keep one", id));
    }
    return overrides;
}

} // namespace

Result<Tables> with_overrides(Tables tables, NamedText const& file)
{
    TRY_ASSIGN(Node const root, parse_tree(file.name, file.text));
    Log log{file.name};
    Section section{root, "overrides", log};
    if (section.text("format") != "guidepin-facts") {
        section.say("the first line of a file of facts is: format = \"guidepin-facts\"");
    }
    if (std::string const kind = section.text("kind"); kind != "overrides") {
        section.say(fmt::format("kind `{}`; a file of overrides says: kind = \"overrides\"", kind));
    }
    Sources const sources = read_sources(section);
    ById const overrides = read_overrides(section, sources, tables);
    section.finish();
    if (!log.empty()) return error_of(log.lines());

    each_copy(tables, [&](Fact& fact) {
        if (auto const found = overrides.find(fact.id); found != overrides.end()) fact = found->second;
    });
    // Two plain numbers are kept beside their facts.
    for (auto& category : tables.categories) {
        if (Fact const* const core = tables.fact("fibre." + category.id + ".core"))
            category.core_um = core->value;
    }
    for (auto& rule : tables.reflectance_rules) {
        if (Fact const* const counted = tables.fact("reflectance." + rule.id + ".counted-above")) {
            rule.counted_above_db = counted->value;
        }
    }
    tables.version = fmt::format("{:016x}", fast_hash(tables.version + "\n" + file.text));
    return tables;
}

} // namespace guidepin::facts
