// SPDX-License-Identifier: Apache-2.0
#include "web/background_findings.hpp"

#include "job/findings/explain.hpp"
#include "job/paper/finding_picture.hpp"

#include <algorithm>
#include <chrono>

#include <sys/resource.h>
#include <unistd.h>

namespace guidepin::web {

namespace {

/// Entries come in bursts: what follows from them is worked out once for a burst.
constexpr auto breath = std::chrono::milliseconds(20);
/// Everything is recomputed after this long without a change, or when it is this old.
constexpr auto quiet_for = std::chrono::milliseconds(1000);
constexpr auto oldest = std::chrono::seconds(20);
/// More changed links than this are recomputed with everything else.
constexpr std::size_t most_renewed = 24;
constexpr double narrow_width = 340, wide_width = 760;
/// More pictures than this make the page too heavy; the rest is in words.
constexpr std::size_t most_pictures = 40;

bool reads_the_same(cause::Finding const& a, cause::Finding const& b)
{
    return a.id == b.id && a.links == b.links && a.positions == b.positions && a.size == b.size &&
           a.probability == b.probability && a.evidence == b.evidence;
}

bool same_alternatives(std::vector<cause::Alternative> const& a, std::vector<cause::Alternative> const& b)
{
    return std::equal(a.begin(), a.end(), b.begin(), b.end(),
                      [](cause::Alternative const& one, cause::Alternative const& other) {
                          return one.cause == other.cause && one.probability == other.probability;
                      });
}

/// Whether pages show the same for both, whatever people said of them: that is read from the job.
bool shows_the_same(ShownFinding const& a, ShownFinding const& b)
{
    cause::Finding const& one = a.entry.finding;
    cause::Finding const& other = b.entry.finding;
    return reads_the_same(one, other) && one.cause == other.cause && one.wavelengths == other.wavelengths &&
           one.since_ms == other.since_ms && one.size_u == other.size_u && one.reference == other.reference &&
           one.subject == other.subject && one.action == other.action &&
           same_alternatives(one.alternatives, other.alternatives) && a.heading == b.heading &&
           a.place == b.place && a.alternatives == b.alternatives && a.links == b.links &&
           a.urgency == b.urgency;
}

} // namespace

/// What the worker keeps from one snapshot to the next.
class BackgroundFindings::Computation
{
  public:
    Computation(std::string path, job::Actor const& actor)
        : path_(std::move(path))
        , actor_(actor)
    {
    }

    /// Updates the last snapshot; nothing if it cannot be updated.
    std::optional<FindingsSnapshot> renewed()
    {
        if (!job_ || !explaining_ || last_.version.empty()) return std::nullopt;
        auto snapshot = renew();
        if (!snapshot) explaining_.reset(); // the whole will say what is wrong
        return snapshot && *snapshot ? std::move(*snapshot) : std::optional<FindingsSnapshot>{};
    }

    /// Recomputes everything.
    FindingsSnapshot whole()
    {
        auto snapshot = compute();
        if (snapshot) {
            last_ = *snapshot;
            return std::move(*snapshot);
        }
        job_.reset();
        explaining_.reset();
        last_ = FindingsSnapshot{};
        FindingsSnapshot none;
        none.failure = snapshot.error().message;
        return none;
    }

  private:
    Result<std::optional<FindingsSnapshot>> renew()
    {
        TRY(job_->refresh());
        job::JobState const& state = job_->state();
        if (job_->generation() != generation_ || state.tests.size() > explained_ + most_renewed)
            return std::optional<FindingsSnapshot>{};
        TRY_ASSIGN(job::Assessment const* const assessment, job_->assessment());
        // A note or a decision changes nothing about what was measured.
        bool const is_tested = explained_ < state.tests.size();
        for (; explained_ < state.tests.size(); ++explained_) {
            std::uint32_t const link = state.readings.link[state.tests[explained_].first_row];
            if (!explaining_->renew(state, *assessment, link)) return std::optional<FindingsSnapshot>{};
        }
        if (is_tested) explained_findings_ = explaining_->findings();
        TRY_ASSIGN(auto findings, job::findings_from(state, *assessment, explained_findings_));
        FindingsSnapshot snapshot;
        snapshot.version = job_->version();
        snapshot.audit = last_.audit;
        snapshot.audit_version = last_.audit_version;
        TRY(show(snapshot, std::move(findings)));
        last_ = snapshot;
        return std::optional(std::move(snapshot));
    }

    Result<FindingsSnapshot> compute()
    {
        if (!job_) {
            TRY_ASSIGN(auto opened, job::Job::open(path_, actor_, false));
            job_.emplace(std::move(opened));
        }
        TRY(job_->refresh());
        FindingsSnapshot snapshot;
        snapshot.version = snapshot.audit_version = job_->version();
        generation_ = job_->generation();
        job::JobState const& state = job_->state();
        TRY_ASSIGN(job::Assessment const* const assessment, job_->assessment());
        TRY_ASSIGN(auto explaining, job::Explaining::of(state, *assessment, actor_.threads));
        explaining_.emplace(std::move(explaining));
        explained_ = state.tests.size();
        explained_findings_ = explaining_->findings();
        TRY_ASSIGN(auto findings, job::findings_from(state, *assessment, explained_findings_));
        TRY_ASSIGN(snapshot.audit, job::audit_job(*job_, actor_, &findings));
        // The audit reads the file again, without a snapshot that would keep new records in the log. What was
        // written meanwhile is audited next; until then the last audit is shown.
        TRY_ASSIGN(std::string const version, record::chains_digest(job_->store()));
        if (version != snapshot.version) {
            snapshot.audit = last_.audit;
            snapshot.audit_version = last_.audit_version;
        }
        last_ = FindingsSnapshot{}; // no picture is taken over
        TRY(show(snapshot, std::move(findings)));
        return snapshot;
    }

    /// Words and pictures; those of the last snapshot where nothing about a finding is new.
    Outcome show(FindingsSnapshot& snapshot, std::vector<job::JobFinding> findings)
    {
        job::JobState const& state = job_->state();
        TRY_ASSIGN(job::Assessment const* const assessment, job_->assessment());
        std::optional<job::FindingPictures> pictures;
        for (job::JobFinding& entry : findings) {
            ShownFinding shown;
            shown.heading = job::heading_of(state, entry.finding);
            shown.place = job::place_of(state, entry.finding);
            shown.alternatives = job::alternatives_of(entry.finding);
            shown.links = entry.evidence.links;
            // What it would be if nobody had said anything: the page puts the acknowledgements to it.
            job::JobFinding open = entry;
            open.acknowledged.reset();
            shown.urgency = job::urgency_of(*assessment, open);
            if (snapshot.findings.size() < most_pictures) {
                auto const same = std::find_if(
                    last_.findings.begin(), last_.findings.end(), [&](ShownFinding const& before) {
                        return before.wide && reads_the_same(before.entry.finding, entry.finding);
                    });
                if (same != last_.findings.end()) {
                    shown.narrow = same->narrow;
                    shown.wide = same->wide;
                } else {
                    if (!pictures) pictures.emplace(state, *assessment, explaining_->columns());
                    TRY_ASSIGN(shown.narrow, pictures->picture(entry.finding, narrow_width));
                    TRY_ASSIGN(shown.wide, pictures->picture(entry.finding, wide_width));
                    // Rows are as wide as they are.
                    if (shown.narrow && shown.wide && shown.narrow->width == shown.wide->width)
                        shown.narrow.reset();
                }
            }
            shown.entry = std::move(entry);
            snapshot.findings.push_back(std::move(shown));
        }
        return {};
    }

    std::string path_;
    job::Actor actor_;
    std::optional<job::Job> job_;
    std::optional<job::Explaining> explaining_; ///< of the first `explained_` tests of this generation
    std::size_t explained_ = 0;
    std::vector<cause::Finding> explained_findings_; ///< those of `explaining_`
    std::uint64_t generation_ = 0;
    FindingsSnapshot last_;
};

BackgroundFindings::BackgroundFindings(std::string job_path, job::Actor actor, std::function<void(bool)> done)
    : job_path_(std::move(job_path))
    , actor_(std::move(actor))
    , done_(std::move(done))
{
    actor_.progress = nullptr;
    worker_ = std::thread([this] { work(); });
}

BackgroundFindings::~BackgroundFindings()
{
    {
        std::lock_guard const guard(lock_);
        closing_ = true;
    }
    asked_.notify_all();
    worker_.join();
}

void BackgroundFindings::request(std::string const& version)
{
    {
        std::lock_guard const guard(lock_);
        if (wanted_ == version) return;
        wanted_ = version;
    }
    asked_.notify_all();
}

std::shared_ptr<FindingsSnapshot const> BackgroundFindings::latest() const
{
    std::lock_guard const guard(lock_);
    return latest_;
}

bool BackgroundFindings::is_current() const
{
    std::lock_guard const guard(lock_);
    return latest_ && latest_->version == wanted_;
}

bool BackgroundFindings::is_audited() const
{
    std::lock_guard const guard(lock_);
    return latest_ && latest_->version == wanted_ && latest_->audit_version == wanted_;
}

void BackgroundFindings::publish(FindingsSnapshot snapshot)
{
    bool is_other = true;
    {
        std::lock_guard const guard(lock_);
        is_other = !latest_ || latest_->failure != snapshot.failure ||
                   !std::equal(latest_->findings.begin(), latest_->findings.end(), snapshot.findings.begin(),
                               snapshot.findings.end(), shows_the_same);
        latest_ = std::make_shared<FindingsSnapshot const>(std::move(snapshot));
    }
    done_(is_other);
}

void BackgroundFindings::work()
{
    using Clock = std::chrono::steady_clock;
    // Pages and entries go first: under load the findings would take a whole core from them.
    ::setpriority(PRIO_PROCESS, static_cast<id_t>(::gettid()), 10);
    Computation computation(job_path_, actor_);
    std::unique_lock guard(lock_);
    std::string tried;
    bool whole = true; // of the version that was tried last
    Clock::time_point looked_at;
    while (!closing_) {
        auto const news = [&] { return closing_ || wanted_ != tried; };
        if (whole) {
            asked_.wait(guard, news);
        } else {
            asked_.wait_until(guard, std::min(Clock::now() + quiet_for, looked_at + oldest), news);
        }
        if (wanted_ != tried) asked_.wait_for(guard, breath, [&] { return closing_; });
        if (closing_) return;
        bool const is_news = wanted_ != tried;
        bool const is_old = !whole && Clock::now() >= looked_at + oldest;
        tried = wanted_;
        guard.unlock();
        std::optional<FindingsSnapshot> snapshot;
        if (is_news && !is_old) snapshot = computation.renewed();
        whole = !snapshot;
        if (whole) {
            snapshot = computation.whole();
            looked_at = Clock::now();
        }
        publish(std::move(*snapshot));
        guard.lock();
    }
}

} // namespace guidepin::web
