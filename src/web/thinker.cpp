// SPDX-License-Identifier: Apache-2.0
#include "web/thinker.hpp"

#include "job/finding_picture.hpp"

#include <chrono>

namespace guidepin::web {

namespace {

/// Entries come in bursts: what follows from them is worked out once for a burst.
constexpr auto rest = std::chrono::milliseconds(150);
constexpr double narrow_width = 340, wide_width = 760;
/// More pictures than this make the page too heavy; the rest is in words.
constexpr std::size_t most_pictures = 40;

Result<Thought> think(job::Job& job, job::Actor const& actor)
{
    Thought thought;
    thought.version = job.version();
    TRY_ASSIGN(job::Assessment const* const assessment, job.assessment());
    job::JobState const& state = job.state();
    TRY_ASSIGN(auto findings, job::findings_of(state, *assessment, actor.threads));
    TRY_ASSIGN(thought.audit, job::audit_job(job, actor, &findings));
    TRY_ASSIGN(auto const pictures, job::FindingPictures::of(state, *assessment));
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
        if (thought.findings.size() < most_pictures) {
            TRY_ASSIGN(shown.narrow, pictures.picture(entry.finding, narrow_width));
            TRY_ASSIGN(shown.wide, pictures.picture(entry.finding, wide_width));
            // Rows are as wide as they are.
            if (shown.narrow && shown.wide && shown.narrow->width == shown.wide->width) shown.narrow.reset();
        }
        shown.entry = std::move(entry);
        thought.findings.push_back(std::move(shown));
    }
    return thought;
}

} // namespace

Thinker::Thinker(std::string job_path, job::Actor actor, std::function<void()> done)
    : job_path_(std::move(job_path))
    , actor_(std::move(actor))
    , done_(std::move(done))
{
    actor_.progress = nullptr;
    worker_ = std::thread([this] { work(); });
}

Thinker::~Thinker()
{
    {
        std::lock_guard const guard(lock_);
        closing_ = true;
    }
    asked_.notify_all();
    worker_.join();
}

void Thinker::think_of(std::string const& version)
{
    {
        std::lock_guard const guard(lock_);
        if (wanted_ == version) return;
        wanted_ = version;
    }
    asked_.notify_all();
}

std::shared_ptr<Thought const> Thinker::latest() const
{
    std::lock_guard const guard(lock_);
    return latest_;
}

bool Thinker::is_current() const
{
    std::lock_guard const guard(lock_);
    return latest_ && latest_->version == wanted_;
}

Thought Thinker::thought() const
{
    auto worked = [&]() -> Result<Thought> {
        TRY_ASSIGN(auto job, job::Job::open(job_path_, actor_, false));
        return think(job, actor_);
    }();
    if (worked) return std::move(*worked);
    Thought none;
    none.failure = worked.error().message;
    return none;
}

void Thinker::work()
{
    std::unique_lock guard(lock_);
    std::string tried;
    while (!closing_) {
        asked_.wait(guard, [&] { return closing_ || wanted_ != tried; });
        asked_.wait_for(guard, rest, [&] { return closing_; });
        if (closing_) return;
        tried = wanted_;
        guard.unlock();
        auto made = std::make_shared<Thought const>(thought());
        guard.lock();
        latest_ = std::move(made);
        guard.unlock();
        done_();
        guard.lock();
    }
}

} // namespace guidepin::web
