// SPDX-License-Identifier: Apache-2.0
#include "job/assess/derived_change.hpp"

#include <map>
#include <tuple>

namespace guidepin::job {

namespace {

/// Rows that stand in the same order, with new ones at the end.
template <typename Row, typename Key>
bool changed_rows(std::vector<Row> const& before, std::vector<Row> const& now, std::vector<Row>& changed,
                  Key key)
{
    if (now.size() < before.size()) return false;
    for (std::size_t i = 0; i < now.size(); ++i) {
        if (i < before.size()) {
            if (key(before[i]) != key(now[i])) return false;
            if (before[i] == now[i]) continue;
        }
        changed.push_back(now[i]);
    }
    return changed.size() * 2 <= now.size() || now.size() < 16;
}

} // namespace

std::optional<record::DerivedTables> derived_change(record::DerivedTables const& before,
                                                    record::DerivedTables const& now)
{
    // No program writes findings and texts to these tables yet. If one does, all rows are written again.
    if (!before.findings.empty() || !now.findings.empty() || !before.texts.empty() || !now.texts.empty())
        return std::nullopt;
    record::DerivedTables change;
    if (!changed_rows(before.links, now.links, change.links,
                      [](auto const& row) { return std::tie(row.link); }) ||
        !changed_rows(before.tests, now.tests, change.tests,
                      [](auto const& row) { return std::tie(row.station, row.sequence); }))
        return std::nullopt;
    std::map<std::tuple<std::string_view, std::string_view, std::string_view>, std::int64_t> counts;
    for (auto const& row : now.progress) counts[{row.scope, row.name, row.state}] = row.links;
    std::map<std::tuple<std::string_view, std::string_view, std::string_view>, std::int64_t> counted;
    for (auto const& row : before.progress) {
        if (!counts.contains({row.scope, row.name, row.state})) return std::nullopt;
        counted[{row.scope, row.name, row.state}] = row.links;
    }
    for (auto const& row : now.progress) {
        auto const found = counted.find({row.scope, row.name, row.state});
        if (found == counted.end() || found->second != row.links) change.progress.push_back(row);
    }
    return change;
}

} // namespace guidepin::job
