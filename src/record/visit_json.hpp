// SPDX-License-Identifier: Apache-2.0
// Reading a long list in JSON without a tree of all its values.
// Verified by: tests/unit/record/visit_json.cpp.
#pragma once

#include "record/canonical_json.hpp"

#include <functional>

namespace guidepin::record {

/// As parse_json() of an object, but each element of its array `list` goes to `take` as soon as it was read
/// and is not kept: a schedule of half a million links is never a tree of values. What is left has an empty
/// array there. An error of `take` ends it; one further on in the text may come after elements that were
/// taken.
Result<JsonValue> visit_elements(std::string_view text, std::string_view list,
                                 std::function<Outcome(JsonValue const&)> const& take);

} // namespace guidepin::record
