// SPDX-License-Identifier: Apache-2.0
// Finding facts and saying them in words: what `guidepin facts` prints.
//
// Verified by: tests/unit/facts/listing.cpp.
#pragma once

#include "facts/tables.hpp"

#include <string>
#include <string_view>
#include <vector>

namespace guidepin::facts {

/// The facts that hold every word of `pattern` (in any letter case) in their id, quantity, condition, value
/// or document; a word with * or ? is matched against the whole id. All facts for an empty pattern. In the
/// order of the tables.
std::vector<Fact const*> matching_facts(Tables const& tables, std::string_view pattern);

/// "3.5 dB/km", "2000 m", "orange".
std::string value_text(Fact const& fact);

/// "from memory, not confirmed …" and how to replace it, where that has to be said; empty otherwise.
std::string caution_text(Fact const& fact);

/// The whole listing, one fact on three lines at most: id and value; quantity and condition; source, basis,
/// note.
std::string facts_listing(std::vector<Fact const*> const& facts);

/// How many facts of each basis, for the last line of a listing and for docs.
std::map<Basis, int> count_by_basis(std::vector<Fact const*> const& facts);

} // namespace guidepin::facts
