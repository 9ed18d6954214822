// SPDX-License-Identifier: Apache-2.0
// What the fuzzers of record bodies ask of each pair of reader and writer.
#pragma once

#include <cstdlib>
#include <string_view>

inline void require(bool holds)
{
    if (!holds) std::abort();
}

/// A value or an error with words; what is read is written and read back the same. What is read may still be
/// refused when it is written.
template <class Read, class Write>
void round_trip(std::string_view text, Read read, Write write)
{
    auto const first = read(text);
    if (!first) {
        require(!first.error().message.empty());
        return;
    }
    auto const written = write(*first);
    if (!written) return;
    auto const again = read(*written);
    require(again.has_value());
    auto const twice = write(*again);
    require(twice.has_value() && *twice == *written);
}
