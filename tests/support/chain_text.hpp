// SPDX-License-Identifier: Apache-2.0
// A chain built from its text in one step, for tests.
#pragma once

#include "plant/chain.hpp"

#include <span>
#include <string_view>
#include <vector>

namespace guidepin::plant {

inline Result<Chain> build_chain(std::string_view text, ChainOptions const& options)
{
    TRY_ASSIGN(std::vector<Element> const elements, parse_chain_text(text));
    return build_chain(std::span<Element const>{elements}, options);
}

} // namespace guidepin::plant
