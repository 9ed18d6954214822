// SPDX-License-Identifier: Apache-2.0
#include "facts/listing.hpp"

#include "base/text.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace guidepin::facts {
namespace {

/// * matches any run of letters, ? one letter.
bool glob_matches(std::string_view pattern, std::string_view text)
{
    std::size_t p = 0;
    std::size_t t = 0;
    std::size_t star = std::string_view::npos;
    std::size_t after_star = 0;
    while (t < text.size()) {
        if (p < pattern.size() && (pattern[p] == '?' || pattern[p] == text[t])) {
            ++p;
            ++t;
        } else if (p < pattern.size() && pattern[p] == '*') {
            star = p++;
            after_star = t;
        } else if (star != std::string_view::npos) {
            p = star + 1;
            t = ++after_star;
        } else {
            return false;
        }
    }
    while (p < pattern.size() && pattern[p] == '*') ++p;
    return p == pattern.size();
}

} // namespace

std::vector<Fact const*> matching_facts(Tables const& tables, std::string_view pattern)
{
    std::string const wanted = lowered(pattern);
    std::vector<std::string_view> words;
    for (auto const word : split(wanted, ' ')) {
        if (!trimmed(word).empty()) words.push_back(trimmed(word));
    }
    std::vector<Fact const*> found;
    for (auto const& fact : tables.facts) {
        std::string const id = lowered(fact.id);
        std::string const all = lowered(fmt::format("{}\n{}\n{}\n{}\n{}", fact.id, fact.quantity,
                                                    fact.condition, value_text(fact), fact.source.text()));
        bool const matches = std::all_of(words.begin(), words.end(), [&](std::string_view word) {
            bool const glob = word.find_first_of("*?") != std::string_view::npos;
            return glob ? glob_matches(word, id) : all.find(word) != std::string::npos;
        });
        if (matches) found.push_back(&fact);
    }
    return found;
}

std::string value_text(Fact const& fact)
{
    if (!fact.text.empty()) return fact.text;
    if (fact.unit.empty() || fact.unit == "1") return number_text(fact.value);
    return fmt::format("{} {}", number_text(fact.value), fact.unit);
}

std::string caution_text(Fact const& fact)
{
    std::string text;
    if (fact.basis == Basis::memory) {
        text = fact.text.empty() ? "from memory, not confirmed against a printed copy; a rule set or "
                                   "overrides of your own can replace it"
                                 : "from memory, not confirmed against a printed copy";
    }
    if (!fact.enabled) {
        text += text.empty() ? "" : "; ";
        text += "carried, but off unless asked for";
    }
    return text;
}

std::string facts_listing(std::vector<Fact const*> const& facts)
{
    std::string text;
    for (Fact const* const fact : facts) {
        text += fmt::format("{}: {}\n", fact->id, value_text(*fact));
        text +=
            fmt::format("    {}{}{}\n", fact->quantity, fact->condition.empty() ? "" : "; ", fact->condition);
        text += fmt::format("    {} [{}]", fact->source.text(), name_of(fact->basis));
        for (auto const& part : {caution_text(*fact), fact->note}) {
            if (!part.empty()) text += "; " + part;
        }
        text += "\n";
    }
    return text;
}

std::map<Basis, int> count_by_basis(std::vector<Fact const*> const& facts)
{
    std::map<Basis, int> counts;
    for (Fact const* const fact : facts) ++counts[fact->basis];
    return counts;
}

} // namespace guidepin::facts
