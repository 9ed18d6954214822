// SPDX-License-Identifier: Apache-2.0
#include "cause/finding.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

namespace guidepin::cause {

namespace {

struct Row
{
    char const* id;
    char const* action; ///< {} is where
    double minutes;     ///< that the action takes, for weighing
};

constexpr std::array<Row, cause_count> rows{{
    {"dirty-or-damaged-end-face",
     "With the source off, inspect {} and clean it, then measure this link again", 4},
    {"macrobend",
     "Follow the cable of {} and look for a tight bend or a trapped loop; measure again at the "
     "longest wavelength",
     15},
    {"misaligned-ferrule",
     "With the source off, inspect pins, holes and faces of {}, reseat the plugs and measure again", 8},
    {"unpinned-joint", "With the source off, look for a joint of two unpinned plugs at {}", 5},
    {"face-mismatch",
     "With the source off, look at the plugs of {}: green is usually angled; do not mate flat to angled "
     "again",
     5},
    {"broken-fibre",
     "Trace {} with the source off at both ends: inspect, clean, then measure its length from "
     "each end",
     12},
    {"extra-connection", "Compare the path of {} with the drawing: count its joints", 10},
    {"core-size-mismatch", "Read the legend on the trunk and the cords of {}: core size and category", 6},
    {"reference-fault", "Take {} again with clean cords, then measure one of these links again", 12},
    {"reference-drift",
     "Repeat the cord check of {}, then take a new reference and measure the first affected "
     "link again",
     8},
    {"test-cord-position", "With the source off, inspect and clean {}, repeat the cord check, then one link",
     5},
    {"wrong-trunk-type", "Read the legend on the trunk of {}", 5},
    {"wrong-adapter", "Look at the adapters of {}: aligned or opposed keys", 5},
    {"wrong-test-cord", "Read the legends on both test cords of {}", 2},
    {"crossed-fibres", "Look at {} at both ends, module or ferrule", 10},
    {"shifted-row", "With the source off, view both end faces of {} and count the filled holes", 8},
    {"swapped-blocks", "Look at how the harness or trunk of {} was built: groups 1-4 and 9-12", 10},
    {"swapped-rows", "Look at the legs and adapters of {}, then ask for the trunk's map", 10},
    {"length-mismatch", "Compare the drawn length of {} with the cable's printed marks at both ends", 10},
    {"mislabelled-link", "Trace {} from end to end and exchange the labels", 10},
    {"copied-measurement", "Measure {} again in the presence of the test lead", 12},
    {"unexplained", "Measure {} again after inspecting both ends with the source off", 10},
    {"contradicting-records", "Ask the people who entered {} which of them is right", 5},
}};

double entropy(double p)
{
    if (p <= 0 || p >= 1) return 0;
    return -(p * std::log2(p) + (1 - p) * std::log2(1 - p));
}

} // namespace

char const* id_of(Cause cause)
{
    return rows[static_cast<std::size_t>(cause)].id;
}

std::string name_of(Cause cause)
{
    std::string name = id_of(cause);
    std::replace(name.begin(), name.end(), '-', ' ');
    return name;
}

std::string action_for(Cause cause, std::string const& where)
{
    return fmt::format(fmt::runtime(rows[static_cast<std::size_t>(cause)].action), where);
}

Cause cause_to_check_first(Finding const& finding)
{
    auto const worth = [](Cause cause, double p) {
        // What the outcome settles, and the chance that the action also cures the fault.
        return (entropy(p) + p) / rows[static_cast<std::size_t>(cause)].minutes;
    };
    Cause best = finding.cause;
    double most = worth(finding.cause, finding.probability);
    for (Alternative const& other : finding.alternatives) {
        double const here = worth(other.cause, other.probability);
        if (here > most) {
            most = here;
            best = other.cause;
        }
    }
    return best;
}

} // namespace guidepin::cause
