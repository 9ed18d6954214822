// SPDX-License-Identifier: Apache-2.0
#include "cause/identity.hpp"

#include "base/hash.hpp"
#include "cause/inside.hpp"

#include <algorithm>

#include <fmt/format.h>

namespace guidepin::cause {

std::string identity_of(Cause cause, std::vector<std::string> parts, std::vector<int> const& positions)
{
    std::string text = id_of(cause);
    std::sort(parts.begin(), parts.end());
    for (std::string const& part : parts) text += fmt::format("\n{}", part);
    text += fmt::format("\n{}", positions_text(positions));
    return fmt::format("{:016x}", fast_hash(text));
}

std::string identity_of(Finding const& finding, Columns const& columns)
{
    std::vector<std::string> parts;
    bool const by_reference = finding.reference != none;
    if (by_reference) {
        parts.push_back(fmt::format("reference {}", columns.references[finding.reference]));
    } else {
        for (std::uint32_t const link : finding.links) parts.push_back(columns.links[link].id);
    }
    return identity_of(finding.cause, std::move(parts), finding.positions);
}

} // namespace guidepin::cause
