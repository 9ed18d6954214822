// SPDX-License-Identifier: Apache-2.0
// Compares the level of each reference with the others and with what such links can lose. A reference that
// was taken through a loss reads low by the same amount in all its links, from the first one on, so no chart
// of changes shows it. Kinds of links and references are fitted together; the quality of the joints is known
// only roughly before that. Mathematics: docs/methods/watch.md. Verified by: tests/unit/watch/levels.cpp
// (closed form of one reference and kind, two references that differ, simulated levels).
#pragma once

#include "units/quantity.hpp"

#include <cstddef>
#include <span>
#include <vector>

namespace guidepin::watch {

/// One kind of links: what its joints lose when they just meet their grade, in dB, fibre taken out. Kinds of
/// one group (fibre category) share the quality of their joints, and what the instruments' budget allows all
/// their readings alike.
struct LevelKind
{
    std::size_t group = 0;
    double grade_db = 0;
    double common_u = 0; ///< dB
};

/// The middle of the links of one kind under one reference, fibre taken out, and its standard uncertainty
/// (> 0), without what the reference itself does.
struct LevelSeen
{
    std::size_t reference = 0;
    std::size_t kind = 0;
    double value_db = 0;
    double u_db = 0;
};

struct LevelDesign
{
    /// Joints of a site lose this share of their grade, with this standard deviation (common practice: real
    /// populations reach 0.4 to 0.8 of their grade).
    double quality = 0.6, quality_sd = 0.25;
    double layout_sd = 0.12; ///< of one kind about its group, as a share of its grade
    /// By how much sound references of one kit differ (our estimate): most of the budget's common part is
    /// common to all of them.
    double reference_sd = 0.04;
    double fault_sd = 0.35; ///< of a wrong reference's error, dB
    double rate = 0.02;     ///< of wrong references, before anything is measured
    /// Share of wrong references that read too low: a reference is more often taken through too much loss
    /// than through too little.
    double low_share = 0.8;
};

/// The level of one reference against all others and the grade.
struct Level
{
    Decibel size; ///< negative: it reads too low
    Decibel u;    ///< standard uncertainty, the quality of the joints included
    double probability = 0;
    bool compared = false; ///< another reference measured links of the same kind
};

/// Returns the level of each of the `references`. References that are probably wrong are found one after the
/// other, the surest first, so that their links do not spoil the level of the rest.
std::vector<Level> reference_levels(std::span<LevelSeen const> seen, std::span<LevelKind const> kinds,
                                    std::size_t references, LevelDesign const& design = {});

} // namespace guidepin::watch
