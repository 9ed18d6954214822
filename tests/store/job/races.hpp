// SPDX-License-Identifier: Apache-2.0
// Two or three programs change one job at the same moment. Each program is a process of its own that opened
// the job before any of them acted, so each decides on a state that another one may change first.
//
// Oracle: the same acts one after the other, in every order. A race has to end as one of these orders does:
// the same answers, the same records, the same derived rows. Beside that the chains hold, an answer is true
// (there are records of a person exactly when that person's program said so), the derived rows are what a
// rebuild gives, and each program knows after refresh() what a fresh reading of the file says.
#pragma once

#include "job/open/job.hpp"
#include "record/check.hpp"

#include <filesystem>
#include <functional>
#include <map>
#include <string>
#include <vector>

namespace guidepin::job::races {

/// What one program answered.
struct Done
{
    enum class How { did, nothing, looked, refused }; ///< looked: changed no record and was not asked to
    How how = How::did;
    Errc code{};       ///< of a refusal
    std::string words; ///< what was reported of it; of a refusal the message
};

/// An act is made ready on the open job before the start, and then done.
using Run = std::function<Done()>;
using Act = std::function<Run(Job& job, Actor const& actor)>;

/// The plain case: nothing to make ready.
template <class Work>
Act act(Work work)
{
    return [work](Job& job, Actor const&) -> Run { return [work, &job] { return work(job); }; };
}

template <class Value>
Done refused(Value const& answer)
{
    return {Done::How::refused, answer.error().code, answer.error().message};
}
inline Done done(Outcome const& answer)
{
    return answer ? Done{} : refused(answer);
}

struct Race
{
    std::string name;
    std::function<void(Job&)> prepare;
    std::vector<Act> acts;
    /// What must be so whatever the order; a complaint, or nothing.
    std::function<std::string(std::vector<Done> const&, JobState const&)> judge = {};
    int rounds = 40;
    /// All records carry one time and one station, where the order of the records has to be that of the
    /// changes.
    bool one_chain = false;
};

/// Runs the rounds and reports the first failures through gtest. Prints the seed and how the races ended.
void run(Race const& race);

// Files of the small job that all races start from: links N-1 to N-3, reference R-1 and its cord check.
std::string schedule_file(std::string const& lines);
std::string readings_file(std::string const& link, std::string const& at, double loss,
                          std::string const& reference = "R-1");
std::string powers_file(std::string const& link, std::string const& at, std::string const& reference);
std::string reference_file(std::string const& id, double power = -20.0);
std::string check_file(std::string const& id, std::string const& reference, std::string const& at);
Done take_readings(Job& job, std::string const& file, bool again = false);
Done take_reference(Job& job, std::string const& file);
Done take_check(Job& job, std::string const& file);

/// How many of the answers are of this kind.
std::size_t count(std::vector<Done> const& answers, Done::How how);

} // namespace guidepin::job::races
