// SPDX-License-Identifier: Apache-2.0
// A job's own numbers in place of published ones: what a contract, a maker's sheet or a printed standard
// says. Format: docs/formats/rule-set.md, "Overrides".
//
// Verified by: tests/unit/facts/overrides.cpp.
#pragma once

#include "facts/tables.hpp"

namespace guidepin::facts {

/// `tables` with the numbers that `file` gives, each by the id of the fact it replaces: a TOML file of kind
/// "overrides" with one [[fact]] for each (id, value, unit, source, basis; condition and note if wanted).
/// Replaces the value wherever it is used: readiness, uncertainty, applications, reflectance, rule sets.
/// invalid_input, all flaws by line: an unknown id (with the nearest), another unit, a value that is words.
/// The version of the tables changes.
Result<Tables> with_overrides(Tables tables, NamedText const& file);

} // namespace guidepin::facts
