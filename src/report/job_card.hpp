// SPDX-License-Identifier: Apache-2.0
// The job card: what a technician hangs up beside the rack. Two sides at most, read at arm's length.
// Verified by: tests/golden/report/job_card.cpp (two pages for a long set-up, words of every caution).
#pragma once

#include "drawing/light_path.hpp"
#include "report/certificate.hpp"
#include "report/common.hpp"

#include <string>
#include <vector>

namespace guidepin::report {

struct CardStep
{
    std::string action;   ///< one action: "Mate the launch cord's far end to the meter."
    std::string look_for; ///< "Two pins, straight, equal length"; may be empty
    std::string if_not;   ///< "Clean again; after three times change the cord"; may be empty
    bool changed = false; ///< a pin change or the like: emphasised
};

struct CardNumber
{
    std::string what;   ///< "Cord check, 850 nm, each fibre"
    std::string accept; ///< "at most 0.20 dB"
    std::string refuse; ///< "above 0.20 dB: clean, mate again, else refuse"
};

struct CardPhase
{
    std::string title; ///< "Reference"
    drawing::LightPath path;
    std::vector<CardStep> steps;
    std::vector<CardNumber> numbers;
};

struct JobCard
{
    JobHead job;
    std::string title;       ///< "Set-up 1: OM4, pinned to unpinned"
    std::vector<Said> facts; ///< links, method, cords, limits
    std::vector<CardPhase> phases;
    std::vector<std::string> cautions; ///< standard_cautions() unless the site asks for more
    std::string record_hash;           ///< of the set-up's record; empty: no QR code
};

/// The cautions that stand on every card.
std::vector<std::string> standard_cautions();

/// Two pages at most: type is made smaller step by step, down to a floor; refused with the number of steps
/// to take out when even that is not enough.
Result<Written> write_job_card(JobCard const& card, Setting const& setting, drawing::ByteSink const& sink);

} // namespace guidepin::report
