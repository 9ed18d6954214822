// SPDX-License-Identifier: Apache-2.0
// Attenuation from powers: A = P_ref - P at the same position and wavelength, both through the same launch
// cord (IEC 61280-4-1, IEC 61280-4-5). Absolute calibration of the meter cancels. The sign is kept: passive
// glass cannot gain, so a value below zero says something about the reference. Method:
// docs/methods/verdict.md. Verified by: tests/oracle/verdict/attenuation.cpp (both forms of the definition,
// mean in dB against mean of powers), tests/unit/verdict/attenuation.cpp.
#pragma once

#include "facts/tables.hpp"
#include "plant/fibre_map.hpp"
#include "setup/method.hpp"
#include "units/quantity.hpp"
#include "verdict/readings.hpp"

#include <array>
#include <span>
#include <vector>

namespace guidepin::verdict {

constexpr Decibel attenuation(Dbm reference, Dbm received)
{
    return reference - received;
}

/// Mean of the two directions, in dB. A constant offset of the meter cancels; an error of a reference that
/// both directions share does not. The mean of linear powers is something else and is not used.
constexpr Decibel mean_of_directions(Decibel forward, Decibel backward)
{
    return (forward + backward) / 2;
}

enum class Sign : std::uint8_t {
    loss,           ///< zero or above
    slight_gain,    ///< below zero by no more than the tolerance: measurement error
    impossible_gain ///< below zero beyond the tolerance: doubt the reference
};
/// `tolerance` is positive, as in the fact readiness.negative-loss.tolerance.
constexpr Sign sign_of(Decibel value, Decibel tolerance)
{
    return value.value() >= 0                    ? Sign::loss
           : value.value() >= -tolerance.value() ? Sign::slight_gain
                                                 : Sign::impossible_gain;
}
/// Loss below zero that still counts as measurement error: 0.05 dB one-cord, 0.10 dB with more cords, unless
/// the tables say otherwise.
Decibel negative_tolerance(facts::Tables const& tables, setup::ReferenceMethod method);

/// Reference powers by position and wavelength. Repeated readings are averaged in dB.
class PowerTable
{
  public:
    void add(int position, int wavelength_nm, Dbm power); ///< position 1 … 64; others are passed over
    /// NaN where there is no power.
    double dbm_at(int position, int wavelength_nm) const;
    std::vector<int> wavelengths() const; ///< in order
    /// The same powers under other position numbers: those of readings, where `map` leads from the
    /// reference's.
    PowerTable renumbered(plant::PositionMap const& map) const;

  private:
    struct Row
    {
        int wavelength_nm = 0;
        std::array<double, plant::max_positions> sum{};
        std::array<int, plant::max_positions> count{};
    };
    Row const* row(int wavelength_nm) const;
    std::vector<Row> rows_; // by wavelength
};

struct Conversion
{
    std::size_t converted = 0;
    std::vector<std::uint32_t> without_reference; ///< rows for which no reference power is known; now NaN
};

/// Powers become attenuations in place. `by_reference[i]` belongs to index i of readings.references; a null
/// pointer or an index outside means that the reference is not known. Rows that name no reference use
/// `unnamed`.
Conversion attenuations_from_powers(ReadingColumns& readings, std::span<PowerTable const* const> by_reference,
                                    PowerTable const* unnamed = nullptr);

} // namespace guidepin::verdict
