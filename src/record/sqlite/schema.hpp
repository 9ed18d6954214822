// SPDX-License-Identifier: Apache-2.0
// Whether the tables of an opened file are those that our scripts make. A flipped byte in the schema's text
// renames a column or a table, and every statement on it would fail in a way that looks like a bug of ours.
// Verified by: tests/store/record/schema_damage.cpp (flips bytes of the page that holds the schema).
#pragma once

#include "record/sqlite/database.hpp"

namespace guidepin::record::sqlite {

/// Errc::damaged, with the first table that differs, unless each table and index of our scripts is in the
/// file as the scripts make it. What the file has besides is none of our business. `with_derived`: the
/// derived tables too.
Outcome require_our_tables(Database const& database, bool with_derived);

} // namespace guidepin::record::sqlite
