// SPDX-License-Identifier: Apache-2.0
// What the fuzzers ask of what is read and written again.
#pragma once

#include <cstdlib>
#include <string_view>

inline void require(bool holds)
{
    if (!holds) std::abort();
}

/// `rewritten` reads a text and writes what it read. An error has words; what was written once is read, and
/// written again the same.
template <class Rewritten>
void written_twice(std::string_view text, Rewritten rewritten)
{
    auto const once = rewritten(text);
    if (!once) {
        require(!once.error().message.empty());
        return;
    }
    auto const twice = rewritten(*once);
    require(twice.has_value() && *twice == *once);
}
