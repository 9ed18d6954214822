// SPDX-License-Identifier: Apache-2.0
// How far a job is and what to do now, in one sentence: for the first page and for whoever asks.
// Verified by: tests/unit/job/entries.cpp (each sentence from a job in that state, rates worked by hand).
#pragma once

#include "job/assess/reference_now.hpp"
#include "job/open/job.hpp"

#include <optional>
#include <string>
#include <vector>

namespace guidepin::job {

/// Links by state.
struct StateCounts
{
    std::int64_t pass = 0, marginal_pass = 0, marginal_fail = 0, fail = 0, held = 0, open = 0;

    void add(std::string_view state, std::int64_t links);
    std::int64_t total() const { return pass + marginal_pass + marginal_fail + fail + held + open; }
    std::int64_t conforming() const { return pass + marginal_pass; }
    std::int64_t failing() const { return fail + marginal_fail; }
    std::int64_t left() const { return total() - conforming(); }
};

struct ZoneStanding
{
    std::string name;
    StateCounts links;
};

/// Links whose latest test was on this day, and how fast they went.
struct DayStanding
{
    std::string day; ///< ISO date on the wall clock of the tests
    StateCounts links;
    std::int64_t tests = 0;
    double hours = 0;               ///< from the first to the last test
    std::optional<double> per_hour; ///< none for fewer than two tests, or no time between them
};

enum class Action : std::uint8_t {
    bring_in_schedule,
    take_reference,
    check_cords,
    measure_open,
    settle_failure,
    measure_held,
    hand_over,
};

struct NextAction
{
    Action action = Action::bring_in_schedule;
    std::string sentence, button;
    std::string link;               ///< to measure or look at; empty: it is about no link
    verdict::ReferenceId reference; ///< to check; to take one: the one to take it like
};

struct Today
{
    StateCounts links;
    std::vector<ZoneStanding> zones;
    std::vector<DayStanding> days;
    std::vector<ReferenceNow> references; ///< newest first
    std::optional<double> links_per_day;  ///< links tested per day on which any was
    std::optional<double> days_left;      ///< of testing, at that rate, for what does not conform yet
    std::string finish;                   ///< the same in words; empty when unknown
    NextAction next;
};

/// All links by state.
Result<StateCounts> counts_of(Job& job);
Result<Today> today_of(Job& job, Instant now);

} // namespace guidepin::job
