// SPDX-License-Identifier: Apache-2.0
#include "watch/negative_loss.hpp"

#include <cmath>

namespace guidepin::watch {

double NegativeLossEvidence::chance() const
{
    return -std::expm1(static_cast<double>(readings) * std::log1p(-worst_chance));
}

void NegativeLossWatch::add(double measured_db, loss::ShiftedGamma const& loss, double least_db, double u,
                            std::size_t row)
{
    if (std::isnan(measured_db)) return;
    ++evidence_.readings;
    if (measured_db >= least_db - 2 * u) return;
    ++evidence_.below;
    double const chance = loss::probability_at_most(loss, u, measured_db);
    if (chance >= evidence_.worst_chance) return;
    evidence_.worst_chance = chance;
    evidence_.worst_db = measured_db;
    evidence_.worst_row = row;
}

} // namespace guidepin::watch
