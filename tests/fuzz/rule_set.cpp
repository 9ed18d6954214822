// SPDX-License-Identifier: Apache-2.0
// room: facts
// Any bytes as a contract's rule set: either a whole rule set whose values all have a source, or a message
// with a line.
#include "facts/tables.hpp"

#include <cstdint>
#include <cstdlib>
#include <string>

extern "C" int LLVMFuzzerTestOneInput(std::uint8_t const* bytes, std::size_t size)
{
    using namespace guidepin;
    facts::NamedText const file{"fuzz.toml", std::string(reinterpret_cast<char const*>(bytes), size)};
    auto const rules = facts::load_rule_set(file, facts::built_in_tables());
    if (!rules) {
        if (rules.error().message.find("fuzz.toml:") == std::string::npos) std::abort();
        return 0;
    }
    if (rules->id.empty() || rules->coefficients.empty()) std::abort();
    for (facts::Fact const* const fact : rules->facts()) {
        if (fact->source.document.empty() || fact->unit.empty() || !fact->text.empty()) std::abort();
        if (!(fact->value >= 0 && fact->value <= 1700)) std::abort();
    }
    return 0;
}
