// SPDX-License-Identifier: Apache-2.0
// A fast hash for tables in memory (FNV-1a). Never for proof: records are chained with SHA-256 in record/.
#pragma once

#include <cstdint>
#include <string_view>

namespace guidepin {

constexpr std::uint64_t fast_hash(std::string_view text)
{
    std::uint64_t hash = 14695981039346656037ULL;
    for (char const letter : text) {
        hash ^= static_cast<unsigned char>(letter);
        hash *= 1099511628211ULL;
    }
    return hash;
}

} // namespace guidepin
