// SPDX-License-Identifier: Apache-2.0
// Readings below what glass can lose. A reference that was taken through an extra loss makes every later
// value too low by that much; a value clearly below the least possible one is evidence against the reference
// at once, long before a chart has enough links. Verified by: tests/oracle/watch/negative_loss.cpp (worked
// values; scipy), tests/unit/watch/properties.cpp.
#pragma once

#include "loss/distribution.hpp"

#include <cstddef>

namespace guidepin::watch {

struct NegativeLossEvidence
{
    std::size_t readings = 0;  ///< looked at
    std::size_t below = 0;     ///< of these, below the least possible value by more than 2 u
    std::size_t worst_row = 0; ///< the caller's number of the least probable reading
    double worst_db = 0;
    double worst_chance = 1; ///< chance of a reading as low as the worst, if the reference is right
    /// Returns the chance that the least probable of all `readings` is as improbable as this, if the
    /// reference is right.
    double chance() const;
    /// The reference is suspected below this chance: one sound reference in a thousand.
    static constexpr double suspicious = 1e-3;
    bool suspect() const { return below > 0 && chance() < suspicious; }
};

class NegativeLossWatch
{
  public:
    /// One reading of `measured_db` with standard uncertainty `u` > 0 on a fibre whose loss follows `loss`,
    /// which is `least_db` (fibre alone) or more. `row` is the caller's number of the reading. NaN is left
    /// out.
    void add(double measured_db, loss::ShiftedGamma const& loss, double least_db, double u, std::size_t row);
    NegativeLossEvidence const& evidence() const { return evidence_; }

  private:
    NegativeLossEvidence evidence_;
};

} // namespace guidepin::watch
