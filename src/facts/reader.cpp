// SPDX-License-Identifier: Apache-2.0
#include "facts/reader.hpp"

#include "base/text.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace guidepin::facts {
void Log::say(int line, std::string const& what)
{
    lines_.push_back(fmt::format("{}:{}: {}", file_, line, what));
}

Error error_of(std::vector<std::string> const& problems)
{
    constexpr std::size_t most = 50;
    std::vector<std::string> shown(
        problems.begin(), problems.begin() + static_cast<std::ptrdiff_t>(std::min(problems.size(), most)));
    if (problems.size() > most) shown.push_back(fmt::format("and {} more", problems.size() - most));
    return Error{Errc::invalid_input, joined(shown, "\n")};
}

Section::Section(Node const& table, std::string what, Log& log)
    : table_(&table)
    , what_(std::move(what))
    , log_(&log)
{
}

Node const* Section::take(std::string_view key)
{
    taken_.insert(std::string{key});
    return table_->member(key);
}

Node const* Section::required(std::string_view key)
{
    Node const* const node = take(key);
    if (!node) say(fmt::format("no `{}`", key));
    return node;
}

std::string Section::text(std::string_view key)
{
    Node const* const node = required(key);
    if (!node) return {};
    if (node->kind != Node::Kind::text) {
        say(*node, fmt::format("`{}` is {}, not a text", key, name_of(node->kind)));
        return {};
    }
    if (trimmed(node->text).empty()) say(*node, fmt::format("`{}` is empty", key));
    return node->text;
}

std::string Section::optional_text(std::string_view key)
{
    Node const* const node = take(key);
    if (!node) return {};
    if (node->kind == Node::Kind::text) return node->text;
    say(*node, fmt::format("`{}` is {}, not a text", key, name_of(node->kind)));
    return {};
}

std::optional<double> Section::number(std::string_view key)
{
    Node const* const node = required(key);
    if (!node) return std::nullopt;
    if (!node->is_number() || !std::isfinite(node->number)) {
        say(*node, fmt::format("`{}` is {}, not a finite number", key, name_of(node->kind)));
        return std::nullopt;
    }
    return node->number;
}

std::optional<int> Section::whole(std::string_view key, int lowest, int highest)
{
    Node const* const node = required(key);
    if (!node) return std::nullopt;
    if (node->kind != Node::Kind::whole || !(node->number >= lowest && node->number <= highest)) {
        say(*node, fmt::format("`{}` is not a whole number from {} to {}", key, lowest, highest));
        return std::nullopt;
    }
    return static_cast<int>(node->number);
}

bool Section::optional_flag(std::string_view key, bool otherwise)
{
    Node const* const node = take(key);
    if (!node) return otherwise;
    if (node->kind == Node::Kind::flag) return node->flag;
    say(*node, fmt::format("`{}` is {}, not true or false", key, name_of(node->kind)));
    return otherwise;
}

std::vector<int> Section::whole_numbers(std::string_view key, int lowest, int highest)
{
    if (!required(key)) return {};
    return optional_whole_numbers(key, lowest, highest);
}

std::vector<int> Section::optional_whole_numbers(std::string_view key, int lowest, int highest)
{
    std::vector<int> numbers;
    Node const* const node = take(key);
    if (!node) return numbers;
    if (node->kind != Node::Kind::list) {
        say(*node, fmt::format("`{}` is {}, not a list of whole numbers", key, name_of(node->kind)));
        return numbers;
    }
    for (auto const& item : node->items) {
        if (item.kind != Node::Kind::whole || !(item.number >= lowest && item.number <= highest)) {
            say(item,
                fmt::format("`{}` holds what is not a whole number from {} to {}", key, lowest, highest));
        } else {
            numbers.push_back(static_cast<int>(item.number));
        }
    }
    return numbers;
}

std::vector<std::string> Section::texts(std::string_view key)
{
    if (!required(key)) return {};
    return optional_texts(key);
}

std::vector<std::string> Section::optional_texts(std::string_view key)
{
    std::vector<std::string> texts;
    Node const* const node = take(key);
    if (!node) return texts;
    if (node->kind != Node::Kind::list) {
        say(*node, fmt::format("`{}` is {}, not a list of texts", key, name_of(node->kind)));
        return texts;
    }
    for (auto const& item : node->items) {
        if (item.kind == Node::Kind::text && !item.text.empty()) {
            texts.push_back(item.text);
        } else {
            say(item, fmt::format("`{}` holds {} where a text belongs", key, name_of(item.kind)));
        }
    }
    return texts;
}

std::vector<Section> Section::tables(std::string_view key)
{
    std::vector<Section> tables;
    Node const* const node = take(key);
    if (!node) return tables;
    if (node->kind != Node::Kind::list) {
        say(*node, fmt::format("`{}` is {}; write [[{}]] for each", key, name_of(node->kind), key));
        return tables;
    }
    for (auto const& item : node->items) {
        if (item.kind == Node::Kind::table) {
            tables.push_back(Section{item, std::string{key}, *log_});
        } else {
            say(item, fmt::format("`{}` holds {}; write [[{}]] for each", key, name_of(item.kind), key));
        }
    }
    return tables;
}

void Section::finish()
{
    std::vector<std::string> const known(taken_.begin(), taken_.end());
    for (auto const& [key, node] : table_->members) {
        if (!taken_.count(key))
            say(node, fmt::format("`{}` is not known here{}", key, did_you_mean(key, known)));
    }
}

Sources read_sources(Section& file)
{
    Sources sources;
    Node const* const node = file.take("sources");
    if (!node) return sources;
    if (node->kind != Node::Kind::table) {
        file.say(*node, "`sources` is not a table of tables");
        return sources;
    }
    for (auto const& [key, table] : node->members) {
        if (table.kind != Node::Kind::table) {
            file.say(table, fmt::format("source `{}` is not a table", key));
            continue;
        }
        Section section{table, fmt::format("source `{}`", key), file.log()};
        Source source;
        source.document = section.text("document");
        source.edition = section.optional_text("edition");
        source.clause = section.optional_text("clause");
        if (source.edition.empty() && source.document != "common practice") {
            section.say("no `edition`; only the document \"common practice\" has none");
        }
        section.finish();
        sources.emplace(key, std::move(source));
    }
    return sources;
}

std::optional<Source> read_source(Section& section, Sources const& sources)
{
    std::string const clause = section.optional_text("clause");
    Node const* const node = section.take("source");
    if (!node) {
        section.say("no `source`: every value says which document it comes from");
        return std::nullopt;
    }
    Source source;
    if (node->kind == Node::Kind::text) {
        auto const found = sources.find(node->text);
        if (found == sources.end()) {
            std::vector<std::string> known;
            for (auto const& [key, value] : sources) known.push_back(key);
            section.say(*node, fmt::format("no [sources.{}] in this file{}", node->text,
                                           did_you_mean(node->text, known)));
            return std::nullopt;
        }
        source = found->second;
    } else if (node->kind == Node::Kind::table) {
        Section inner{*node, section.what() + ", source", section.log()};
        source.document = inner.text("document");
        source.edition = inner.optional_text("edition");
        source.clause = inner.optional_text("clause");
        if (source.edition.empty() && source.document != "common practice") inner.say("no `edition`");
        inner.finish();
    } else {
        section.say(*node, "`source` is neither the name of a [sources] table nor { document, edition }");
        return std::nullopt;
    }
    if (!clause.empty()) source.clause = clause;
    return source;
}

std::optional<Basis> read_basis(Section& section)
{
    Node const* const node = section.take("basis");
    if (!node) {
        section.say("no `basis`: standard, secondary, common-practice, memory or derived");
        return std::nullopt;
    }
    auto const basis = node->kind == Node::Kind::text ? parse_basis(node->text) : std::nullopt;
    if (!basis) {
        section.say(*node,
                    fmt::format("basis `{}` is none of standard, secondary, common-practice, memory, derived",
                                node->text));
    }
    return basis;
}

std::optional<Fact> read_fact(Section& section, Sources const& sources, std::string id, std::string quantity,
                              Expected const& expected)
{
    Fact fact;
    fact.id = std::move(id);
    fact.quantity = std::move(quantity);
    bool good = true;
    bool const in_words = section.take("text") != nullptr;
    if (in_words || expected.unit.empty()) {
        fact.text = section.text("text");
        fact.unit = section.optional_text("unit");
        good = !fact.text.empty();
        if (!expected.unit.empty() && expected.unit != "*") {
            section.say(fmt::format("`text` where a number in {} belongs", expected.unit));
            good = false;
        }
        if (section.take("value")) {
            section.say("has both `value` and `text`; keep one");
            good = false;
        }
    } else {
        auto const value = section.number("value");
        fact.unit = section.text("unit");
        if (!value || fact.unit.empty()) {
            good = false;
        } else {
            fact.value = *value;
            if (expected.unit != "*" && fact.unit != expected.unit) {
                section.say(fmt::format("unit `{}`; this value is in {}", fact.unit, expected.unit));
                good = false;
            } else if (!(*value >= expected.lowest && *value <= expected.highest)) {
                section.say(fmt::format("value {} {} lies outside {} to {}", number_text(*value), fact.unit,
                                        number_text(expected.lowest), number_text(expected.highest)));
                good = false;
            }
        }
    }
    fact.condition = section.optional_text("condition");
    fact.note = section.optional_text("note");
    fact.enabled = section.optional_flag("enabled", true);
    auto const source = read_source(section, sources);
    auto const basis = read_basis(section);
    if (!good || !source || !basis) return std::nullopt;
    fact.source = *source;
    fact.basis = *basis;
    return fact;
}

std::optional<Fact> read_optional_fact_member(Section& section, std::string_view key, Sources const& sources,
                                              std::string id, std::string quantity, Expected const& expected)
{
    Node const* const node = section.take(key);
    if (!node) return std::nullopt;
    if (node->kind != Node::Kind::table) {
        section.say(*node, fmt::format("`{}` is {}, not a table with value, unit, source and basis", key,
                                       name_of(node->kind)));
        return std::nullopt;
    }
    Section inner{*node, fmt::format("{}, {}", section.what(), key), section.log()};
    auto fact = read_fact(inner, sources, std::move(id), std::move(quantity), expected);
    inner.finish();
    return fact;
}

std::optional<Fact> read_fact_member(Section& section, std::string_view key, Sources const& sources,
                                     std::string id, std::string quantity, Expected const& expected)
{
    if (!section.required(key)) return std::nullopt;
    return read_optional_fact_member(section, key, sources, std::move(id), std::move(quantity), expected);
}

} // namespace guidepin::facts
