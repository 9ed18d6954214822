// SPDX-License-Identifier: Apache-2.0
// The latest reading of each place of a link (launch end, wavelength, position), under all references or
// under one. The rule is that of verdict::judge_links().
#pragma once

#include "job/state/state.hpp"
#include "verdict/judge.hpp"

#include <cstdint>
#include <vector>

namespace guidepin::job {

struct Place
{
    std::uint8_t end = 0;        ///< 0: launched from A
    std::uint8_t wavelength = 0; ///< index into LinkKind::wavelength_nm
    std::int16_t position = 0;   ///< at the launch end, from 1
    std::uint32_t row = 0;
};

class LatestPlaces
{
  public:
    static constexpr std::uint32_t any_reference = verdict::Dictionary::missing;

    /// Both have to live as long as this object.
    LatestPlaces(verdict::ReadingColumns const& readings, verdict::RowsByLink const& rows)
        : readings_(&readings)
        , rows_(&rows)
    {
    }

    /// Returns the places of a link in order of end, wavelength and position, dark and empty rows among them.
    /// `reference` is a number in the readings' dictionary; rows from `rows_end` on are left out. The result
    /// is valid until the next call.
    std::vector<Place> const& of(verdict::LinkKind const& kind, std::size_t columns, std::size_t link,
                                 std::uint32_t reference = any_reference, std::uint32_t rows_end = UINT32_MAX)
    {
        verdict::ReadingColumns const& readings = *readings_;
        verdict::RowsByLink const& rows = *rows_;
        constexpr std::uint32_t none = UINT32_MAX;
        latest_.assign(2 * kind.wavelengths * columns, none);
        for (std::uint32_t k = rows.begin(link); k < rows.end(link); ++k) {
            std::uint32_t const row = rows.row(k);
            if (row >= rows_end) continue;
            if (reference != any_reference && readings.reference[row] != reference) continue;
            int const position = readings.position[row];
            std::size_t const end = readings.launch_end[row] == verdict::LaunchEnd::b ? 1 : 0;
            plant::Occupancy const& occupied = end == 0 ? kind.occupied_a : kind.occupied_b;
            if (position < 1 || position > static_cast<int>(columns) ||
                !occupied.test(static_cast<std::size_t>(position - 1)))
                continue;
            std::size_t w = 0;
            while (w < kind.wavelengths && kind.wavelength_nm[w] != readings.wavelength_nm[row]) ++w;
            if (w == kind.wavelengths) continue;
            std::uint32_t& before =
                latest_[(end * kind.wavelengths + w) * columns + static_cast<std::size_t>(position - 1)];
            if (before == none || readings.taken_ms[row] > readings.taken_ms[before] ||
                (readings.taken_ms[row] == readings.taken_ms[before] && row > before))
                before = row;
        }
        places_.clear();
        for (std::size_t i = 0; i < latest_.size(); ++i) {
            if (latest_[i] == none) continue;
            places_.push_back({static_cast<std::uint8_t>(i / columns / kind.wavelengths),
                               static_cast<std::uint8_t>(i / columns % kind.wavelengths),
                               static_cast<std::int16_t>(i % columns + 1), latest_[i]});
        }
        return places_;
    }

  private:
    verdict::ReadingColumns const* readings_;
    verdict::RowsByLink const* rows_;
    std::vector<std::uint32_t> latest_;
    std::vector<Place> places_;
};

} // namespace guidepin::job
