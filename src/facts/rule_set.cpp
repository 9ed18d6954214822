// SPDX-License-Identifier: Apache-2.0
#include "base/hash.hpp"
#include "base/text.hpp"
#include "facts/readers.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace guidepin::facts {
namespace {

/// Wider than any document: what lies outside is a slip of the pen (dB for dB/km, a lost decimal point).
constexpr Expected coefficient_range{"dB/km", 0.0, 50.0};
constexpr Expected connection_range{"dB", 0.0, 20.0};

bool is_id(std::string_view text)
{
    if (text.empty() || text.size() > 64) return false;
    return std::all_of(text.begin(), text.end(), [](char c) {
        return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '-' ||
               c == '.' || c == '_';
    });
}

/// Applies `act` to every fact of the rule set, in the order of the document.
template <class Rules, class Act>
void each_fact(Rules& rules, Act act)
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

void rename_facts(RuleSet& rules, std::string const& from, std::string const& to)
{
    each_fact(rules, [&](Fact& fact) {
        if (fact.id.starts_with(from + ".")) fact.id = to + fact.id.substr(from.size());
    });
}

void read_coefficients(Section& file, Sources const& sources, Tables const& known, RuleSet& rules,
                       std::vector<Fact>& own)
{
    std::set<std::pair<std::string, int>> seen;
    for (auto& row : file.tables("coefficient")) {
        std::string const category = row.text("category");
        auto const wavelength = row.whole("wavelength", shortest_wavelength, longest_wavelength);
        std::string const variant = row.optional_text("variant");
        auto fact =
            read_fact(row, sources,
                      fmt::format("{}.coefficient.{}.{}{}{}", rules.id, category, wavelength.value_or(0),
                                  variant.empty() ? "" : ".", variant),
                      fmt::format("Attenuation coefficient of {} at {} nm", category, wavelength.value_or(0)),
                      coefficient_range);
        row.finish();
        if (!category.empty() && !known.category(category)) {
            row.say(known.category(category).error().message);
            continue;
        }
        if (!fact || !wavelength || category.empty()) continue;
        own.push_back(*fact);
        if (!fact->enabled) continue;
        if (!seen.insert({category, *wavelength}).second) {
            row.say(fmt::format("{} at {} nm is given twice; keep one", category, *wavelength));
            continue;
        }
        auto const same = [&](RuleSet::Coefficient const& c) {
            return c.category == category && c.wavelength_nm == *wavelength;
        };
        auto const found = std::find_if(rules.coefficients.begin(), rules.coefficients.end(), same);
        if (found != rules.coefficients.end()) {
            found->fact = *fact;
        } else {
            rules.coefficients.push_back(RuleSet::Coefficient{category, *wavelength, *fact});
        }
    }
}

/// One value of a rule set: its key in the file, the name that people read, and the rule set's id.
struct NamedValue
{
    std::string_view key;
    std::string_view name;
    std::string const& rules;
};

using ByGrade = std::map<std::pair<CordGrade, FibreKind>, Fact>;

void read_by_grade(Section& file, Sources const& sources, NamedValue const& value, ByGrade& values,
                   std::vector<Fact>& own)
{
    std::set<std::pair<CordGrade, FibreKind>> seen;
    for (auto& row : file.tables(value.key)) {
        std::string const cords = row.text("cords");
        auto const grade = parse_cord_grade(cords);
        if (!grade && !cords.empty())
            row.say(fmt::format("cords `{}` are neither reference nor standard", cords));
        auto const kind = taken_fibre(row);
        std::string const variant = row.optional_text("variant");
        auto const fact =
            read_fact(row, sources,
                      fmt::format("{}.{}.{}.{}{}{}", value.rules, value.key, grade ? name_of(*grade) : "?",
                                  kind ? name_of(*kind) : "?", variant.empty() ? "" : ".", variant),
                      fmt::format("{}, {}-grade cords, {}", value.name, cords, kind ? name_of(*kind) : "?"),
                      connection_range);
        row.finish();
        if (!fact || !grade || !kind) continue;
        own.push_back(*fact);
        if (!fact->enabled) continue;
        if (!seen.insert({*grade, *kind}).second) {
            row.say(fmt::format("{} {} is given twice; keep one", cords, name_of(*kind)));
        }
        values[{*grade, *kind}] = *fact;
    }
}

void read_wavelengths(Section& file, Sources const& sources, RuleSet& rules, std::vector<Fact>& own)
{
    std::map<FibreKind, std::vector<RuleSet::Wavelength>> read;
    for (auto& row : file.tables("wavelength")) {
        auto const kind = taken_fibre(row);
        auto fact = read_fact(row, sources, "", "", Expected{"nm", shortest_wavelength, longest_wavelength});
        bool const marked = row.optional_flag("required", false);
        row.finish();
        if (!fact || !kind) continue;
        fact->id = fmt::format("{}.wavelength.{}.{}", rules.id, name_of(*kind), number_text(fact->value));
        fact->quantity = fmt::format("Wavelength to be measured, {}", name_of(*kind));
        auto const same = [&](Fact const& other) { return other.id == fact->id; };
        if (std::any_of(own.begin(), own.end(), same)) {
            row.say(fmt::format("{} nm is given twice; keep one", number_text(fact->value)));
            continue;
        }
        own.push_back(*fact);
        if (!fact->enabled) continue;
        // Rule sets from before `required` existed say it in the note.
        bool const required = marked || read[*kind].empty() || fact->note.starts_with("required");
        read[*kind].push_back({*fact, required});
    }
    for (auto& [kind, list] : read) rules.wavelengths[kind] = std::move(list);
}

void read_single(Section& file, Sources const& sources, NamedValue const& value, Fact& fact,
                 std::vector<Fact>& own)
{
    auto const read =
        read_optional_fact_member(file, value.key, sources, fmt::format("{}.{}", value.rules, value.key),
                                  std::string{value.name}, connection_range);
    if (!read) {
        if (fact.id.empty() && !file.take(value.key)) file.say(fmt::format("no [{}]", value.key));
        return;
    }
    if (!read->enabled) file.say(fmt::format("[{}] cannot be switched off: the limit needs it", value.key));
    fact = *read;
    own.push_back(fact);
}

void demand_whole(Section const& file, RuleSet const& rules)
{
    if (rules.coefficients.empty())
        file.say("no [[coefficient]]: at least one category and wavelength is needed");
    if (rules.end_connection.empty()) {
        file.say("no [[end-connection]]: say what an end connection is allowed, by cords and fibre");
    }
    if (!rules.simple_count) {
        for (auto const& [key, fact] : rules.end_connection) {
            if (rules.reference_joint.count(key)) continue;
            file.say(fmt::format(
                "no [[reference-joint]] for {}-grade cords, {}: give one, or `simple-count = true`",
                name_of(key.first), name_of(key.second)));
        }
    }
    if (rules.wavelengths.empty()) file.say("no [[wavelength]]: say what is to be measured");
}

} // namespace

Fact const* RuleSet::coefficient(std::string_view category, Nanometres wavelength) const
{
    for (auto const& row : coefficients) {
        if (row.wavelength_nm == wavelength.value() && row.category == category) return &row.fact;
    }
    return nullptr;
}

std::vector<Fact const*> RuleSet::facts() const
{
    std::vector<Fact const*> all;
    each_fact(*this, [&](Fact const& fact) { all.push_back(&fact); });
    return all;
}

void read_rule_set(Section& file, Sources const& sources, Tables const& known, RuleSet& rules,
                   std::vector<Fact>& own)
{
    Node const* const head = file.required("rule-set");
    if (!head) return;
    if (head->kind != Node::Kind::table) {
        file.say(*head, "`rule-set` is not a table");
        return;
    }
    Section section{*head, "[rule-set]", file.log()};
    std::string const id = section.text("id");
    if (!is_id(id)) {
        section.say(
            fmt::format("id `{}`: use letters, digits, point, hyphen and underscore, at most 64", id));
    }
    std::string const base_id = section.optional_text("based-on");
    if (!base_id.empty()) {
        auto const base = known.rule_set(base_id);
        if (!base) {
            section.say(base.error().message);
        } else {
            rules = **base;
            rename_facts(rules, base_id, id);
        }
    }
    rules.id = id;
    rules.title = section.text("title");
    rules.simple_count = section.optional_flag("simple-count", rules.simple_count);
    if (auto const source = read_source(section, sources)) rules.source = *source;
    section.finish();

    read_coefficients(file, sources, known, rules, own);
    read_by_grade(file, sources, {"end-connection", "End connection", id}, rules.end_connection, own);
    read_by_grade(file, sources, {"reference-joint", "One joint inside the reference", id},
                  rules.reference_joint, own);
    read_single(file, sources, {"inner-connection", "Connection inside the link", id}, rules.inner_connection,
                own);
    read_single(file, sources, {"splice", "Splice", id}, rules.splice, own);
    read_wavelengths(file, sources, rules, own);
    demand_whole(file, rules);
}

Result<RuleSet> load_rule_set(NamedText const& file, Tables const& tables)
{
    TRY_ASSIGN(Node const root, parse_tree(file.name, file.text));
    Log log{file.name};
    Section section{root, "rule set", log};
    std::string const format = section.text("format");
    if (format != "guidepin-facts")
        section.say("the first line of a file of facts is: format = \"guidepin-facts\"");
    std::string const kind = section.text("kind");
    if (kind != "rule-set") section.say(fmt::format("kind `{}`; a rule set says: kind = \"rule-set\"", kind));
    Sources const sources = read_sources(section);
    RuleSet rules;
    std::vector<Fact> own;
    read_rule_set(section, sources, tables, rules, own);
    section.finish();
    if (!log.empty()) return error_of(log.lines());
    return rules;
}

Tables with_rule_set(Tables tables, RuleSet rules)
{
    std::string const prefix = rules.id + ".";
    std::erase_if(tables.facts, [&](Fact const& fact) { return fact.id.starts_with(prefix); });
    std::string text = tables.version + rules.id + rules.title + (rules.simple_count ? "1" : "0");
    for (Fact const* const fact : rules.facts()) {
        tables.facts.push_back(*fact);
        text += fmt::format("\n{}\t{}\t{}\t{}\t{}\t{}", fact->id, number_text(fact->value), fact->unit,
                            fact->condition, fact->source.text(), name_of(fact->basis));
    }
    for (auto const& [kind, list] : rules.wavelengths) {
        for (RuleSet::Wavelength const& each : list) text += each.required ? "\trequired" : "\t";
    }
    tables.version = fmt::format("{:016x}", fast_hash(text));
    auto const found = std::find_if(tables.rule_sets.begin(), tables.rule_sets.end(),
                                    [&](RuleSet const& other) { return other.id == rules.id; });
    if (found != tables.rule_sets.end()) {
        *found = std::move(rules);
    } else {
        tables.rule_sets.push_back(std::move(rules));
    }
    return tables;
}

} // namespace guidepin::facts
