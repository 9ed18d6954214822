// SPDX-License-Identifier: Apache-2.0
// How often each fault occurs before anything is measured, what wrong maps mean, and when to report:
// data/causes.toml.
// Verified by: tests/unit/cause/finding.cpp.
#pragma once

#include "cause/finding.hpp"
#include "facts/tables.hpp"
#include "plant/signature.hpp"

namespace guidepin::cause {

/// What a wrong map of one link means: its likeliest cause and the one after it.
struct MapMeaning
{
    Cause cause = Cause::unexplained;
    double probability = 0;
    Cause other = Cause::unexplained;
    double other_probability = 0;
};

/// What it means when most links that share a part read mirrored.
struct SharedMirror
{
    double least_share = 1;   ///< of the links, from which the shared part is named
    double few = 0, many = 0; ///< probability that it is the shared part
    double alternative = 0;   ///< share of the next cause in what remains
};

struct Priors
{
    std::array<double, cause_count> rate{}; ///< per link or per reference, see the facts
    double macrobend_multimode = 0.0003;
    double dark_dirty = 0.1; ///< of dirty or damaged end faces, those that pass no light
    /// Of links that read mirrored alone: a trunk of the other type, an adapter, a test cord.
    double mirrored_trunk = 0.7, mirrored_adapter = 0.2, mirrored_cord = 0.02;
    SharedMirror mirrored_cords;                                  ///< many: from 6 links
    SharedMirror mirrored_panel;                                  ///< many: from 4 links
    std::array<MapMeaning, plant::signature_kinds> map_meaning{}; ///< dark_fibres: see dark_dirty
    double exchanged_labels = 0.85, exchanged_trunks = 0.12;      ///< each link reads as the other should
    double lengths_exchanged_most = 0.97;                         ///< of exchanged labels, from lengths alone
    double length_wrong = 0.96, length_mislabelled = 0.03;        ///< of a wrong length without a partner
    double extreme_broken = 0.7, extreme_dirty = 0.3;             ///< of a fibre that loses more than 10 dB
    double reference_too_low = 0.8, reference_too_high = 0.2;     ///< of wrong references
    double false_doubt = 0.01; ///< per sound reference, how often the watch doubts it
    double report_from = 0.7;
    double sharpness = 1;

    double rate_of(Cause cause) const { return rate[static_cast<std::size_t>(cause)]; }
};

/// Returns not_found if the tables lack one of the facts causes.*, and invalid_input for a share outside 0
/// to 1.
Result<Priors> priors_of(facts::Tables const& tables);

} // namespace guidepin::cause
