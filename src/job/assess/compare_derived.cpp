// SPDX-License-Identifier: Apache-2.0
#include "job/assess/compare_derived.hpp"

#include "job/assess/assess.hpp"
#include "record/derived_digest.hpp"

#include <algorithm>
#include <tuple>

#include <fmt/format.h>

namespace guidepin::job {

namespace {

/// What the first row is called that is in one of the two alone, or differs.
template <class Row, class Key>
std::string first_difference(std::vector<Row> expected, std::vector<Row> kept, char const* what, Key key)
{
    auto const by_key = [&](Row const& a, Row const& b) { return key(a) < key(b); };
    std::sort(expected.begin(), expected.end(), by_key);
    std::sort(kept.begin(), kept.end(), by_key);
    auto const differs = std::mismatch(expected.begin(), expected.end(), kept.begin(), kept.end());
    if (differs.first == expected.end() && differs.second == kept.end()) return {};
    bool const ours = differs.second == kept.end() ||
                      (differs.first != expected.end() && key(*differs.first) < key(*differs.second));
    return fmt::format("{} {}", what, key(ours ? *differs.first : *differs.second));
}

std::string first_difference(record::DerivedTables const& expected, record::DerivedTables const& kept)
{
    std::string found =
        first_difference(expected.links, kept.links, "link", [](auto const& row) { return row.link; });
    if (found.empty())
        found = first_difference(expected.tests, kept.tests, "the test of link", [](auto const& row) {
            return fmt::format("{}, record {} of station {}", row.link, row.sequence, row.station);
        });
    if (found.empty())
        found = first_difference(expected.findings, kept.findings, "finding",
                                 [](auto const& row) { return row.id; });
    if (found.empty())
        found = first_difference(expected.progress, kept.progress, "the count of", [](auto const& row) {
            return fmt::format("{} {} {}", row.scope, row.name, row.state);
        });
    if (found.empty())
        found =
            first_difference(expected.texts, kept.texts, "text", [](auto const& row) { return row.name; });
    return found;
}

} // namespace

Result<DerivedComparison> compare_derived(record::Store const& store)
{
    TRY_ASSIGN(auto const snapshot, store.snapshot());
    TRY_ASSIGN(std::string const basis, store.derived_basis());
    TRY_ASSIGN(auto const kept, store.derived_tables());
    bool const nothing_kept = kept.links.empty() && kept.tests.empty() && kept.findings.empty() &&
                              kept.progress.empty() && kept.texts.empty();
    if (basis.empty() && nothing_kept) return DerivedComparison{true, "not there yet"};
    TRY_ASSIGN(std::string const chains, record::chains_digest(store));
    if (basis != chains) return DerivedComparison{false, "older than the records"};
    TRY_ASSIGN(auto const state, load_state(store));
    TRY_ASSIGN(auto const assessment, assess(state, 2));
    std::string const differs = first_difference(derive(state, assessment), kept);
    if (!differs.empty())
        return DerivedComparison{false,
                                 fmt::format("differ from what the records say, first at {}", differs)};
    TRY_ASSIGN(std::string const digest, store.derived_digest());
    TRY_ASSIGN(auto const actual, record::DerivedDigest::of(kept));
    if (!digest.empty() && digest != actual.hex())
        return DerivedComparison{false, "their digest is not that of the rows"};
    return DerivedComparison{true, "as the records say"};
}

} // namespace guidepin::job
