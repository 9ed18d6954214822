// SPDX-License-Identifier: Apache-2.0
// Questions to derived rows in memory. Pages and commands ask these, never the tables in a file: what a
// stranger wrote into a file's derived tables must not pass for a verdict. Verified by:
// tests/store/record/store.cpp.
#pragma once

#include "record/derived.hpp"

#include <string_view>
#include <vector>

namespace guidepin::record {

LinkPage select_links(DerivedTables const& tables, LinkQuery const& query);
/// Null when there is none.
DerivedLink const* find_link(DerivedTables const& tables, std::string_view id);
std::vector<DerivedTest> tests_of(DerivedTables const& tables, std::string_view link); ///< oldest first
std::vector<DerivedProgress> progress_of(DerivedTables const& tables, std::string_view scope);

} // namespace guidepin::record
