// SPDX-License-Identifier: Apache-2.0
// room: record
// Any bytes as JSON: no crash, the three readers agree on what is JSON, and canonical form is a fixed point.
#include "record/canonical_json.hpp"

#include <cstdlib>

using namespace guidepin;
using namespace guidepin::record;

namespace {

void require(bool holds)
{
    if (!holds) std::abort();
}

} // namespace

extern "C" int LLVMFuzzerTestOneInput(std::uint8_t const* data, std::size_t size)
{
    std::string_view const text(reinterpret_cast<char const*>(data), size);
    auto const value = parse_json(text);
    auto const canonical = canonicalised(text);
    require(value.has_value() == canonical.has_value());
    auto const is_canonical = require_canonical(text);
    if (!value) {
        require(!is_canonical);
        return 0;
    }
    require(is_canonical.has_value() == (*canonical == text));
    require(require_canonical(*canonical).has_value());
    require(canonical_json(*value).value() == *canonical);
    auto const again = parse_json(*canonical);
    require(again.has_value() && *again == *value);
    return 0;
}
