// SPDX-License-Identifier: Apache-2.0
// Says who writes to a job file right now. SQLite's own lock decides who may; this only gives it a name, in a
// small file beside the job ("floor-2.job-holder"). A program that was killed leaves the name behind, never
// the lock.
#pragma once

#include <string>

namespace guidepin::record::sqlite {

class Holder
{
  public:
    explicit Holder(std::string const& job_path)
        : path_(job_path + "-holder")
    {
    }

    /// Once the lock is ours. Failing is not an error: the name is then missing from another's message.
    void enter(std::string const& program) const;
    /// After the lock was given back; leaves the name of whoever came in between.
    void leave() const;
    /// "Guidepin 0.1.0 (process 1234 on aisle-2)", or "another program".
    std::string who() const;

  private:
    std::string path_;
};

} // namespace guidepin::record::sqlite
