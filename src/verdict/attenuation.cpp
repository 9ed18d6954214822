// SPDX-License-Identifier: Apache-2.0
#include "verdict/attenuation.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace guidepin::verdict {

Decibel negative_tolerance(facts::Tables const& tables, setup::ReferenceMethod method)
{
    bool const one_cord = method == setup::ReferenceMethod::one_cord;
    auto const* const fact = tables.fact(one_cord ? "readiness.negative-loss.tolerance"
                                                  : "readiness.negative-loss.tolerance.more-cords");
    return Decibel{fact ? fact->value : one_cord ? 0.05 : 0.1};
}

void PowerTable::add(int position, int wavelength_nm, Dbm power)
{
    if (position < 1 || position > plant::max_positions || !std::isfinite(power.value())) return;
    auto at = std::lower_bound(rows_.begin(), rows_.end(), wavelength_nm,
                               [](Row const& row, int nm) { return row.wavelength_nm < nm; });
    if (at == rows_.end() || at->wavelength_nm != wavelength_nm) {
        at = rows_.insert(at, Row{});
        at->wavelength_nm = wavelength_nm;
    }
    auto const i = static_cast<std::size_t>(position - 1);
    at->sum[i] += power.value();
    ++at->count[i];
}

PowerTable::Row const* PowerTable::row(int wavelength_nm) const
{
    for (Row const& row : rows_) {
        if (row.wavelength_nm == wavelength_nm) return &row;
    }
    return nullptr;
}

double PowerTable::dbm_at(int position, int wavelength_nm) const
{
    Row const* const found = row(wavelength_nm);
    if (!found || position < 1 || position > plant::max_positions) {
        return std::numeric_limits<double>::quiet_NaN();
    }
    auto const i = static_cast<std::size_t>(position - 1);
    return found->count[i] ? found->sum[i] / found->count[i] : std::numeric_limits<double>::quiet_NaN();
}

std::vector<int> PowerTable::wavelengths() const
{
    std::vector<int> result;
    for (Row const& row : rows_) result.push_back(row.wavelength_nm);
    return result;
}

PowerTable PowerTable::renumbered(plant::PositionMap const& map) const
{
    PowerTable result;
    for (Row const& row : rows_) {
        for (int p = 1; p <= plant::max_positions; ++p) {
            auto const from = static_cast<std::size_t>(p - 1);
            if (!row.count[from] || !map.at(p)) continue;
            result.add(map.at(p), row.wavelength_nm, Dbm{row.sum[from] / row.count[from]});
        }
    }
    return result;
}

Conversion attenuations_from_powers(ReadingColumns& readings, std::span<PowerTable const* const> by_reference,
                                    PowerTable const* unnamed)
{
    Conversion conversion;
    if (!readings.is_power) return conversion;
    for (std::size_t i = 0; i < readings.size(); ++i) {
        std::uint32_t const reference = readings.reference[i];
        PowerTable const* const powers = reference == Dictionary::missing  ? unnamed
                                         : reference < by_reference.size() ? by_reference[reference]
                                                                           : nullptr;
        double const dbm = powers ? powers->dbm_at(readings.position[i], readings.wavelength_nm[i])
                                  : std::numeric_limits<double>::quiet_NaN();
        if (std::isnan(dbm)) {
            conversion.without_reference.push_back(static_cast<std::uint32_t>(i));
        } else {
            ++conversion.converted;
        }
        readings.value[i] = attenuation(Dbm{dbm}, Dbm{readings.value[i]}).value();
    }
    readings.is_power = false;
    return conversion;
}

} // namespace guidepin::verdict
