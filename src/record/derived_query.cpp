// SPDX-License-Identifier: Apache-2.0
#include "record/derived_query.hpp"

#include "base/text.hpp"

#include <algorithm>
#include <optional>
#include <tuple>

namespace guidepin::record {

namespace {

bool fits(DerivedLink const& row, LinkQuery const& query, std::string const& needle)
{
    return (query.zone.empty() || row.zone == query.zone) &&
           (query.state.empty() || row.state == query.state) && (query.day.empty() || row.day == query.day) &&
           (query.reference.empty() || row.reference == query.reference) &&
           (query.operator_name.empty() || row.operator_name == query.operator_name) &&
           (needle.empty() || row.search.find(needle) != std::string::npos) &&
           (!query.scheduled || row.scheduled == *query.scheduled) &&
           (!query.margin_below_db || (row.worst_margin_db && *row.worst_margin_db < *query.margin_below_db));
}

/// What a row is sorted by; equal ones go by link.
struct SortKey
{
    std::string_view text;
    std::optional<double> number;
};

SortKey sort_key(DerivedLink const& row, LinkSort sort)
{
    switch (sort) {
    case LinkSort::link:
        break;
    case LinkSort::zone:
        return {row.zone, {}};
    case LinkSort::state:
        return {row.state, {}};
    case LinkSort::margin:
        return {{}, row.worst_margin_db};
    case LinkSort::conformity:
        return {{}, row.conformity};
    case LinkSort::tested:
        if (row.tested_at_ms) return {{}, static_cast<double>(*row.tested_at_ms)};
        return {};
    }
    return {row.link, {}};
}

bool comes_before(DerivedLink const& a, DerivedLink const& b, LinkQuery const& query)
{
    SortKey const left = sort_key(a, query.sort);
    SortKey const right = sort_key(b, query.sort);
    // Missing values come last whichever way.
    if (left.number.has_value() != right.number.has_value()) return left.number.has_value();
    auto const one = std::tie(left.text, left.number);
    auto const other = std::tie(right.text, right.number);
    if (one != other) return query.descending ? other < one : one < other;
    return a.link < b.link;
}

} // namespace

LinkPage select_links(DerivedTables const& tables, LinkQuery const& query)
{
    std::string const needle = lowered(query.needle);
    std::vector<DerivedLink const*> found;
    for (DerivedLink const& row : tables.links) {
        if (fits(row, query, needle)) found.push_back(&row);
    }
    LinkPage page;
    page.total = static_cast<std::int64_t>(found.size());
    auto const begin =
        static_cast<std::ptrdiff_t>(std::min(std::max<std::int64_t>(query.offset, 0), page.total));
    auto const end =
        static_cast<std::ptrdiff_t>(query.limit < 0 ? page.total : std::min(page.total, begin + query.limit));
    // Only the rows of this page need their places.
    std::partial_sort(
        found.begin(), found.begin() + end, found.end(),
        [&](DerivedLink const* a, DerivedLink const* b) { return comes_before(*a, *b, query); });
    for (auto row = found.begin() + begin; row != found.begin() + end; ++row) page.rows.push_back(**row);
    return page;
}

DerivedLink const* find_link(DerivedTables const& tables, std::string_view id)
{
    auto const found = std::find_if(tables.links.begin(), tables.links.end(),
                                    [&](DerivedLink const& row) { return row.link == id; });
    return found == tables.links.end() ? nullptr : &*found;
}

std::vector<DerivedTest> tests_of(DerivedTables const& tables, std::string_view link)
{
    std::vector<DerivedTest> found;
    for (DerivedTest const& row : tables.tests) {
        if (row.link == link) found.push_back(row);
    }
    std::sort(found.begin(), found.end(), [](DerivedTest const& a, DerivedTest const& b) {
        return std::tie(a.tested_at_ms, a.station, a.sequence) <
               std::tie(b.tested_at_ms, b.station, b.sequence);
    });
    return found;
}

std::vector<DerivedProgress> progress_of(DerivedTables const& tables, std::string_view scope)
{
    std::vector<DerivedProgress> found;
    for (DerivedProgress const& row : tables.progress) {
        if (row.scope == scope) found.push_back(row);
    }
    std::sort(found.begin(), found.end(), [](DerivedProgress const& a, DerivedProgress const& b) {
        return std::tie(a.name, a.state) < std::tie(b.name, b.state);
    });
    return found;
}

} // namespace guidepin::record
