// SPDX-License-Identifier: Apache-2.0
// A file up to its first row: dialect, header, and which of its columns is which of ours. Room-private.
#pragma once

#include "base/result.hpp"
#include "intake/csv.hpp"
#include "intake/layout.hpp"

#include <string>
#include <string_view>
#include <vector>

namespace guidepin::intake {

/// More than any layout needs: 64 positions, some wavelengths, two directions, and what programs add.
constexpr std::size_t most_columns = 5000;

struct OpenedFile
{
    std::string_view body;            ///< behind the header
    std::uint32_t body_line = 1;      ///< number of its first line
    Dialect dialect;                  ///< the decimal mark is not known yet when it is to be detected
    std::vector<std::string> headers; ///< as written, trimmed
};

Result<OpenedFile> open_file(std::string_view file, ReadOptions const& options);

/// Which file column holds each column of the layout; -1: none does.
struct HeaderMatch
{
    std::vector<int> file_column;
    std::vector<std::string> unused;
};

/// For the plain layouts. Every required column is there, none twice, not two of a group, and no unknown
/// header that looks like a misspelt column of ours: an optional column is never lost in silence.
Result<HeaderMatch> match_header(LayoutKind kind, std::vector<std::string> const& headers);

/// The mark that the first number with decimals in these file columns is written with; '.' when there is
/// none. `has_quotes`: there is a double quote somewhere in the body.
char detect_decimal(OpenedFile const& file, std::vector<int> const& number_columns, bool has_quotes,
                    std::string const& comment = {});

} // namespace guidepin::intake
