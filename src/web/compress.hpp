// SPDX-License-Identifier: Apache-2.0
// gzip (RFC 1952), at a level that costs little. Verified by: tests/unit/web/compress.cpp, tests/web (a
// browser reads it).
#pragma once

#include "base/result.hpp"

#include <cstddef>
#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

namespace guidepin::web {

/// Returns a whole gzip file, or an error if there is no memory.
Result<std::string> compressed(std::string_view bytes);

/// A text with gaps that is compressed once: the word of each reader goes into the gaps without compressing
/// again.
class CompressedPieces
{
  public:
    /// Compresses `pieces`; there is a gap between each two of them.
    static Result<CompressedPieces> of(std::vector<std::string_view> const& pieces);

    /// Returns a whole gzip file. `word` fills every gap; it has at most 65,535 bytes.
    std::string with(std::string_view word) const;
    std::size_t bytes() const;

  private:
    CompressedPieces() = default;
    struct Piece
    {
        std::string deflated; ///< ends at a byte, and nothing after it looks back beyond it (RFC 1951)
        std::uint32_t crc = 0;
        std::size_t length = 0; ///< of the text
    };
    std::vector<Piece> pieces_;
};

} // namespace guidepin::web
