// SPDX-License-Identifier: Apache-2.0
// How the derived tables write verdicts: the state of a link as a word, and the row of a link as one short
// text, such as "850:350p,420p,-;1310:…": by wavelength and position the level in thousandths of the limit
// and a letter for the state. Writer and reader are both here. Verified by: tests/unit/job/link_row.cpp
// (there and back).
#pragma once

#include "verdict/conformity.hpp"

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace guidepin::job {

/// Returns the word of a state: "pass", "marginal-pass", "marginal-fail", "fail", "held", "open".
char const* state_id(verdict::State state);
/// Returns the state that a word of the derived tables means, and open for any other word.
verdict::State state_of_id(std::string_view id);

/// What a row says of one position.
enum class CellMark : std::uint8_t {
    pass,
    marginal_pass,
    marginal_fail,
    fail,
    dark, ///< fails because no light arrives
    held,
    open,
    unused, ///< the link has no fibre there
};
CellMark mark_of(verdict::State state);

/// One position at one wavelength.
struct RowCell
{
    CellMark mark = CellMark::unused;
    std::optional<std::int64_t> level; ///< in thousandths of the limit

    friend bool operator==(RowCell const&, RowCell const&) = default;
};

/// One wavelength of a row.
struct WavelengthCells
{
    std::int64_t wavelength_nm = 0;
    std::vector<RowCell> cells; ///< by position, from position 1

    friend bool operator==(WavelengthCells const&, WavelengthCells const&) = default;
};

/// Writes a row, cell by cell.
class RowWriter
{
  public:
    void wavelength(std::int64_t nm); ///< starts the cells of a wavelength
    void cell(RowCell const& cell);   ///< adds the next position
    std::string take() { return std::move(text_); }

  private:
    std::string text_;
    bool first_ = true;
};

/// Reads a row. Parts without a wavelength are left out; a letter that no state has counts as open.
std::vector<WavelengthCells> read_row(std::string_view row);

/// Says whether no light arrives from there; the level is then no attenuation. Reads only the one wavelength.
bool says_dark(std::string_view row, std::int64_t wavelength_nm, std::int64_t position);

} // namespace guidepin::job
