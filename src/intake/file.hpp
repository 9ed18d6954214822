// SPDX-License-Identifier: Apache-2.0
// What a file brought in, what of it did not hold, and how it is written. The same for every layout.
// Format: docs/formats/csv.md.
// Verified by: tests/unit/intake, tests/oracle/intake/rfc4180.cpp (each rule of RFC 4180 section 2).
#pragma once

#include "base/result.hpp"

#include <cstddef>
#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

namespace guidepin::intake {

struct ColumnMap;

/// One cell, or one whole row where `column` is empty, that does not hold.
struct Problem
{
    std::uint32_t line = 0; ///< of the file, from 1; where the row starts when it has line breaks in quotes
    std::string column;     ///< header as the file writes it
    std::string value;      ///< as the file writes it, shortened when very long
    std::string reason;     ///< what is wrong and what would be right
};

/// "line 14, position: '99': outside 1 to 64".
std::string problem_text(Problem const& problem);

struct Problems
{
    std::vector<Problem> listed; ///< in file order, at most ReadOptions::listed_at_most
    std::size_t count = 0;       ///< all of them, listed or not
    std::size_t rows = 0;        ///< rows that have at least one
};

/// How the file is written: as the caller says, or as its first lines show.
struct Dialect
{
    char separator = ','; ///< ',', ';' or '\t'
    char decimal = '.';   ///< '.' or ','
};

struct ReadOptions
{
    std::string name = "file";               ///< for messages
    char separator = 0;                      ///< 0: detected
    char decimal = 0;                        ///< 0: detected
    std::int16_t default_offset_minutes = 0; ///< zone of times that carry none
    bool keep_good_rows = false;             ///< otherwise one bad row refuses the whole file
    int threads = 1;                         ///< 1 to 64; the result does not depend on it
    std::size_t listed_at_most = 50;         ///< problems kept in words; all are counted
    ColumnMap const* map = nullptr;          ///< for any layout but our own plain ones
};

/// What was read. When `refused`, `content` is empty and `bad` says why: refusal() makes the message.
template <class Content>
struct Intake
{
    Content content;
    Problems bad;                            ///< rows that are not in `content`
    Problems repeated;                       ///< rows that say exactly what an earlier row says: kept once
    std::vector<std::string> unused_columns; ///< headers that no column of the layout claims
    std::size_t rows = 0;                    ///< rows with content, header not counted
    bool refused = false;
    Dialect dialect;
};

/// The whole list as one message: "readings.csv: 3 of 120 rows do not hold; nothing was kept. line 14, …".
Error refusal(std::string_view name, Problems const& bad, std::size_t rows);

/// The list of what was left out when good rows were kept, one line each, with "and 950 more" at the end.
std::string problems_text(Problems const& problems);

/// Returns which of comma, semicolon and tab occurs most often outside quotes in the first line of `text`;
/// comma when none does.
char detect_separator(std::string_view header_line);

} // namespace guidepin::intake
