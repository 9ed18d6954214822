// SPDX-License-Identifier: Apache-2.0
// A verdict spelt out for people: every fibre with its numbers, and what was found, in words. For one link at
// a time, when somebody asks; judge.hpp decides, this only describes. Verified by:
// tests/unit/verdict/explain.cpp.
#pragma once

#include "verdict/judge.hpp"

#include <optional>
#include <string>
#include <vector>

namespace guidepin::verdict {

/// How sentences write numbers: the reader's habit, never the machine's.
struct Writing
{
    char decimal = '.';
    bool feet = false; ///< lengths in feet
};

/// Something that was found about a link. `id` is stable, so that a person can acknowledge it.
struct Finding
{
    std::string id;             ///< "loss-beyond-limit", "polarity-wrong", …
    std::string text;           ///< a whole sentence with the numbers
    std::string action;         ///< what to do; may be empty
    std::vector<int> positions; ///< at A; empty: the whole link
    bool decides = true;        ///< false: a remark that leaves the verdict as it is
};

/// One place: a fibre at a wavelength.
struct PlaceDetail
{
    int wavelength_nm = 0;
    bool required = true;
    std::optional<std::uint32_t> row_a, row_b; ///< current readings launched from A and from B
    double from_a_db = std::numeric_limits<double>::quiet_NaN();
    double from_b_db = std::numeric_limits<double>::quiet_NaN();
    double mean_db = std::numeric_limits<double>::quiet_NaN(); ///< where both are there
    double counted_db = std::numeric_limits<double>::quiet_NaN();
    double limit_db = std::numeric_limits<double>::quiet_NaN();
    double margin_db = std::numeric_limits<double>::quiet_NaN();
    double u_db = std::numeric_limits<double>::quiet_NaN(); ///< of counted_db
    double guard_db = 0;
    double p_conform = std::numeric_limits<double>::quiet_NaN();
    State state = State::open;
};

struct FibreDetail
{
    int position_a = 0;
    int expected_b = 0;              ///< 0: the plan does not say
    int measured_b = far_not_stated; ///< as the current readings say; far_dark: nowhere
    bool counts = true;              ///< for the link's verdict
    bool polarity_wrong = false;
    State state = State::open;       ///< of the loss
    std::vector<PlaceDetail> places; ///< in the order of the kind's wavelengths
};

struct LinkDetail
{
    std::vector<FibreDetail> fibres; ///< in order of the position at A
    plant::PositionMap
        measured; ///< A to B, from the current readings; conflicting ones leave their place out
    std::vector<Finding> findings; ///< what decides first
};

/// `link` of these results. `verdicts` must come from the same arguments.
LinkDetail explain(ReadingColumns const& readings, RowsByLink const& rows, JudgeTasks const& tasks,
                   Verdicts const& verdicts, std::size_t link, Writing const& writing = {});

} // namespace guidepin::verdict
