// SPDX-License-Identifier: Apache-2.0
// The open job behind the pages: one thread at a time may use it; open pages hear of changes.
// Verified by: tests/web (two devices), tests/unit/job/entries.cpp (what another program wrote).
#pragma once

#include "job/open/job.hpp"
#include "report/locale.hpp"
#include "web/background_findings.hpp"
#include "web/session.hpp"

#include <atomic>
#include <condition_variable>
#include <cstdint>
#include <functional>
#include <list>
#include <memory>
#include <mutex>
#include <string>
#include <thread>
#include <vector>

namespace guidepin::web {

struct DeskSettings
{
    std::string job_path, package_folder, watch_folder;
    job::Actor actor;
    std::function<void(std::string_view)> announce; ///< lines for the terminal; called from any thread
};

/// A file that was brought and not yet said yes to.
struct Stashed
{
    std::string id, name, bytes, column_map;
    verdict::ReferenceId reference; ///< for rows that name none
    bool instrument_positions = false;
};

/// The package that is being built, or that was built last.
struct Building
{
    bool running = false;
    std::string what, failure;
    std::size_t done = 0, total = 0;
    std::vector<std::pair<std::string, int>> files; ///< name, pages
};

class Desk
{
  public:
    static Result<std::unique_ptr<Desk>> open(DeskSettings settings);
    ~Desk();

    /// Held by whoever uses job(), stash or building.
    std::mutex& lock() { return lock_; }
    job::Job& job() { return *job_; }
    job::Job const& job() const { return *job_; }
    DeskSettings const& settings() const { return settings_; }
    Sessions& sessions() { return sessions_; }
    Instant now() const;
    setup::Day today() const; ///< in the job's zone
    report::Locale locale() const;
    /// What is wrong with the job's file, in a sentence; empty when all is well. Every page shows it. Under
    /// lock().
    std::string const& trouble() const { return trouble_; }
    /// Whether nothing can be kept because of the trouble. Under lock().
    bool is_stopped() const { return stopped_; }

    /// The people of the job and their roles at this moment. Reading them never waits for a page.
    std::shared_ptr<std::vector<job::Person> const> people() const;

    /// Asks every open page to refresh, because something was written.
    void changed();
    /// Something was written to the job, whose lock is held: also updates the background findings.
    void job_changed();
    /// The background findings were computed again and are the same: refreshes the pages that show their
    /// state.
    void findings_checked();
    /// Counts changed() and findings_checked().
    std::uint64_t changes() const { return changes_; }
    /// Counts changed() alone: for pages that do not show the state of the findings.
    std::uint64_t changes_of_job() const { return changes_of_job_; }
    /// Until changes() is no longer `seen`, the time is over or the desk closes.
    std::uint64_t wait_for_change(std::uint64_t seen, int milliseconds);
    void close();
    bool closing() const { return closing_; }

    std::string stash(Stashed file);
    Stashed* stashed(std::string const& id);
    void drop(std::string const& id);

    /// Findings and audit, as far as they are known.
    BackgroundFindings const& background() const { return *background_; }

    Building const& building() const { return building_; }
    /// Begins building in the background. Errors: conflict when one is being built.
    Outcome build_package(std::string person);
    std::string package_folder() const { return settings_.package_folder; }

  private:
    Desk() = default;
    void watch();
    bool look();
    void keep_people();
    void build(std::string const& person);

    DeskSettings settings_;
    std::optional<job::Job> job_;
    std::mutex lock_;
    Sessions sessions_;
    std::mutex wait_lock_;
    std::condition_variable waiting_;
    std::atomic<std::uint64_t> changes_{1};
    std::atomic<std::uint64_t> changes_of_job_{1};
    std::atomic<bool> closing_{false};
    std::thread watcher_, builder_;
    std::unique_ptr<BackgroundFindings> background_;
    std::list<Stashed> stash_;
    Building building_;
    std::string trouble_;
    bool stopped_ = false;
    mutable std::mutex people_lock_;
    std::shared_ptr<std::vector<job::Person> const> people_;
    std::int64_t told_ms_ = 0;
};

/// Letters and digits nobody can guess.
std::string random_word(std::size_t bytes);

} // namespace guidepin::web
