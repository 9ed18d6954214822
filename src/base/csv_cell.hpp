// SPDX-License-Identifier: Apache-2.0
// One text as a cell of CSV: quoted as RFC 4180 asks, and written so that no spreadsheet runs it as a
// formula. Every writer of CSV in the program uses it, and every reader takes the guard off again. Rule,
// exactly: docs/formats/csv.md#formulas. Method: OWASP, "CSV Injection". Verified by:
// tests/unit/base/csv_cell.cpp (any text comes back unchanged; no cell starts a formula, whichever separator
// a spreadsheet reads with), tests/unit/intake/write.cpp, tests/unit/report/tables.cpp.
#pragma once

#include <string>
#include <string_view>

namespace guidepin {

/// The whole cell, with its guard and its quotes. Never for a number: -0.31 stays a number.
std::string csv_cell(std::string_view text);

/// `text` with a single quote before each place where a spreadsheet would start a formula.
std::string formula_guarded(std::string_view text);

/// What formula_guarded() was given. A text without a guard comes back unchanged.
std::string formula_unguarded(std::string_view text);

} // namespace guidepin
