// SPDX-License-Identifier: Apache-2.0
// Findings and audit of the job, computed in a thread of their own: they take a second or two on a large job,
// and no page waits for them. A few new tests update the last findings at once; everything is recomputed when
// no more changes come. Verified by: tests/unit/web/background_findings.cpp, tests/web (the
// findings page).
#pragma once

#include "drawing/scene.hpp"
#include "job/findings/findings.hpp"
#include "job/handover/audit.hpp"
#include "job/open/job.hpp"

#include <condition_variable>
#include <functional>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <thread>
#include <vector>

namespace guidepin::web {

/// A finding in the words and pictures of a page.
struct ShownFinding
{
    job::JobFinding entry;
    std::string heading, place, alternatives;
    std::vector<std::string> links;
    std::string urgency;                        ///< where it is open
    std::optional<drawing::Scene> narrow, wide; ///< for a phone and for a desk
};

/// Findings and audit of one version of the job.
struct FindingsSnapshot
{
    std::string version; ///< of the job that the findings were computed from
    std::vector<ShownFinding> findings;
    std::optional<job::AuditReport> audit;
    std::string audit_version; ///< of the job that the audit was made from
    std::string failure;       ///< why there are none
};

/// Computes findings and audit of the job in its own thread, so that no page waits for them.
class BackgroundFindings
{
  public:
    /// Calls `done` from the worker thread whenever a snapshot is ready: with true if its findings differ
    /// from those of the last snapshot.
    BackgroundFindings(std::string job_path, job::Actor actor, std::function<void(bool)> done);
    ~BackgroundFindings();
    BackgroundFindings(BackgroundFindings const&) = delete;
    BackgroundFindings& operator=(BackgroundFindings const&) = delete;

    /// The job is at this version now. Returns at once.
    void request(std::string const& version);
    /// The latest snapshot; null before the first.
    std::shared_ptr<FindingsSnapshot const> latest() const;
    /// Whether the findings of `latest` are of the version that was asked for last.
    bool is_current() const;
    /// Whether its audit is, too.
    bool is_audited() const;

  private:
    class Computation;
    void work();
    void publish(FindingsSnapshot snapshot);

    std::string job_path_;
    job::Actor actor_;
    std::function<void(bool)> done_;
    mutable std::mutex lock_;
    std::condition_variable asked_;
    std::string wanted_;
    std::shared_ptr<FindingsSnapshot const> latest_;
    bool closing_ = false;
    std::thread worker_;
};

} // namespace guidepin::web
