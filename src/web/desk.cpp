// SPDX-License-Identifier: Apache-2.0
#include "web/desk.hpp"

#include "job/handover/package.hpp"
#include "job/sheet/locale.hpp"

#include <algorithm>
#include <chrono>

#include <fmt/format.h>

namespace guidepin::web {

namespace {

constexpr std::size_t stash_at_most = 8;
constexpr int look_every_ms = 300; // for what another program wrote; well under the second that is promised

} // namespace

Result<std::unique_ptr<Desk>> Desk::open(DeskSettings settings)
{
    std::unique_ptr<Desk> desk(new Desk);
    TRY_ASSIGN(auto job, job::Job::open(settings.job_path, settings.actor, true));
    desk->job_.emplace(std::move(job));
    desk->settings_ = std::move(settings);
    // The rows in the file may be somebody else's; the first entry then writes only what it changes.
    TRY(desk->job_->rebuild());
    desk->keep_people();
    desk->look();
    desk->background_ = std::make_unique<BackgroundFindings>(desk->settings_.job_path, desk->settings_.actor,
                                                             [raw = desk.get()](bool is_other) {
                                                                 if (is_other)
                                                                     raw->changed();
                                                                 else
                                                                     raw->findings_checked();
                                                             });
    desk->background_->request(desk->job_->version());
    desk->watcher_ = std::thread([raw = desk.get()] { raw->watch(); });
    return desk;
}

Desk::~Desk()
{
    close();
    if (watcher_.joinable()) watcher_.join();
    if (builder_.joinable()) builder_.join();
}

Instant Desk::now() const
{
    return {settings_.actor.clock->now_ms(), job_->state().settings.zone_offset_minutes};
}

setup::Day Desk::today() const
{
    return job::day_of(now());
}

report::Locale Desk::locale() const
{
    return job::locale_of(job_->state().settings);
}

void Desk::changed()
{
    ++changes_of_job_;
    findings_checked();
}

void Desk::findings_checked()
{
    {
        std::lock_guard const guard(wait_lock_);
        ++changes_;
    }
    waiting_.notify_all();
}

void Desk::job_changed()
{
    keep_people();
    background_->request(job_->version());
    changed();
}

std::shared_ptr<std::vector<job::Person> const> Desk::people() const
{
    std::lock_guard const guard(people_lock_);
    return people_;
}

void Desk::keep_people()
{
    auto people = std::make_shared<std::vector<job::Person> const>(job_->state().people);
    std::lock_guard const guard(people_lock_);
    people_ = std::move(people);
}

std::uint64_t Desk::wait_for_change(std::uint64_t seen, int milliseconds)
{
    std::unique_lock guard(wait_lock_);
    waiting_.wait_for(guard, std::chrono::milliseconds(milliseconds),
                      [&] { return changes_ != seen || closing_; });
    return changes_;
}

void Desk::close()
{
    {
        std::lock_guard const guard(wait_lock_);
        closing_ = true;
    }
    waiting_.notify_all();
}

void Desk::watch()
{
    while (!closing_) {
        bool moved = false;
        {
            std::lock_guard const guard(lock_);
            moved = look();
            background_->request(job_->version());
        }
        if (moved) changed();
        std::unique_lock guard(wait_lock_);
        waiting_.wait_for(guard, std::chrono::milliseconds(look_every_ms), [&] { return closing_.load(); });
    }
}

/// Takes in what other programs wrote, and sees whether the file is still there. True when a page would show
/// something else than before.
bool Desk::look()
{
    auto const outcome = job_->refresh();
    std::string trouble;
    if (!outcome) {
        // A file that another program is writing to is no trouble: the next look comes at once.
        if (outcome.error().code == Errc::busy) return false;
        trouble = outcome.error().message;
    } else {
        trouble = job_->caution();
    }
    bool const is_news = trouble != trouble_;
    trouble_ = std::move(trouble);
    stopped_ = !outcome;
    if (is_news && settings_.announce)
        settings_.announce(trouble_.empty()
                               ? "The job file can be used again.\n"
                               : fmt::format("{}: {}\n", stopped_ ? "Stop" : "Caution", trouble_));
    if (!outcome || !*outcome) return is_news;
    keep_people();
    return job_->rows().has_value() || is_news;
}

std::string Desk::stash(Stashed file)
{
    file.id = random_word(12);
    if (stash_.size() >= stash_at_most) stash_.pop_front();
    stash_.push_back(std::move(file));
    return stash_.back().id;
}

Stashed* Desk::stashed(std::string const& id)
{
    auto const found =
        std::find_if(stash_.begin(), stash_.end(), [&](auto const& file) { return file.id == id; });
    return found == stash_.end() ? nullptr : &*found;
}

void Desk::drop(std::string const& id)
{
    stash_.remove_if([&](auto const& file) { return file.id == id; });
}

Outcome Desk::build_package(std::string person)
{
    if (building_.running)
        return Error{Errc::conflict, "The package is already being built: wait until it is done"};
    if (builder_.joinable()) builder_.join();
    building_ = Building{};
    building_.running = true;
    building_.what = "Reading the job";
    builder_ = std::thread([this, who = std::move(person)] { build(who); });
    return {};
}

void Desk::build(std::string const& person)
{
    // A second view of the file: nobody waits for the package, but for the record at its end.
    job::Actor actor = settings_.actor;
    if (!person.empty()) actor.name = person;
    actor.progress_context = this;
    actor.progress = [](void* context, job::Progress const& progress) {
        auto& desk = *static_cast<Desk*>(context);
        {
            std::lock_guard const guard(desk.lock_);
            desk.building_.what = progress.what;
            desk.building_.done = progress.done;
            desk.building_.total = progress.total;
            std::int64_t const now = desk.settings_.actor.clock->now_ms();
            if (now - desk.told_ms_ < 500) return;
            desk.told_ms_ = now;
        }
        desk.changed();
    };
    auto const built = [&]() -> Result<job::Package> {
        TRY_ASSIGN(auto job, job::Job::open(settings_.job_path, actor, true));
        job::PackageOptions options;
        options.folder = settings_.package_folder;
        options.paper = report::parse_paper(job.state().settings.paper).value_or(report::Paper::a4);
        options.made = {settings_.actor.clock->now_ms(), job.state().settings.zone_offset_minutes};
        return job::write_package(job, actor, options);
    }();
    {
        std::lock_guard const guard(lock_);
        building_.running = false;
        if (built) {
            for (auto const& file : built->files) building_.files.emplace_back(file.name, file.pages);
        } else {
            building_.failure = built.error().message;
        }
    }
    changed();
}

} // namespace guidepin::web
