// SPDX-License-Identifier: Apache-2.0
#include "cli/job_world.hpp"

#include "base/text.hpp"
#include "cli/readable.hpp"

#include <algorithm>
#include <cstdio>

#include <fmt/format.h>

namespace guidepin::cli {

namespace {

/// One line on standard error, drawn over itself; shown only when the work has taken more than a second.
class Bar
{
  public:
    void show(job::Progress const& progress, std::int64_t now_ms)
    {
        if (progress.what != what_) {
            what_ = progress.what;
            started_ms_ = now_ms;
        }
        if (first_ms_ == 0) first_ms_ = now_ms;
        if (now_ms - first_ms_ < 1000 || now_ms - drawn_ms_ < 100 || progress.total == 0) return;
        drawn_ms_ = now_ms;
        double const share = static_cast<double>(progress.done) / static_cast<double>(progress.total);
        double const seconds = static_cast<double>(now_ms - started_ms_) / 1000;
        auto const filled = static_cast<std::size_t>(share * 24);
        std::string const bar =
            std::string(filled, '=') + std::string(24 - std::min<std::size_t>(filled, 24), ' ');
        std::string tail;
        if (progress.done > 0 && seconds > 0.2) {
            double const rate = static_cast<double>(progress.done) / seconds;
            tail = fmt::format("  {:.0f}/s  {:.0f} s left", rate,
                               (1 - share) * static_cast<double>(progress.total) / rate);
        }
        fmt::print(stderr, "\r{:<20} [{}] {:3.0f} %{}   ", what_, bar, share * 100, tail);
        shown_ = true;
    }
    /// Clears the line before other output follows.
    void clear()
    {
        if (shown_) fmt::print(stderr, "\r{:78}\r", "");
        shown_ = false;
    }

  private:
    std::string what_;
    std::int64_t started_ms_ = 0, first_ms_ = 0, drawn_ms_ = 0;
    bool shown_ = false;
};

Bar& the_bar()
{
    static Bar bar;
    return bar;
}

void on_progress(void* context, job::Progress const& progress)
{
    the_bar().show(progress, static_cast<Clock const*>(context)->now_ms());
}

} // namespace

job::Actor actor_of(Arguments const& arguments, World& world)
{
    job::Actor actor;
    actor.name = arguments.text("--operator");
    if (actor.name.empty()) actor.name = world.variable("GUIDEPIN_OPERATOR");
    if (actor.name.empty()) actor.name = world.variable("USER");
    if (actor.name.empty()) actor.name = "operator";
    actor.key_path = arguments.text("--station-key");
    if (actor.key_path.empty()) {
        std::string folder = world.variable("XDG_DATA_HOME");
        if (folder.empty()) folder = world.variable("HOME") + "/.local/share";
        actor.key_path = folder + "/guidepin/station.key";
    } else {
        actor.key_path = path_in(world, actor.key_path);
    }
    actor.clock = &world.clock;
    actor.program = GUIDEPIN_VERSION;
    if (world.error_terminal) {
        actor.progress = &on_progress;
        actor.progress_context = const_cast<Clock*>(&world.clock);
    }
    return actor;
}

void clear_progress()
{
    the_bar().clear();
}

Result<job::Job> open_job(Arguments const& arguments, World const& world, job::Actor const& actor,
                          bool writing)
{
    TRY_ASSIGN(auto job, job::Job::open(path_in(world, arguments.text("JOB")), actor, writing));
    if (std::string const caution = job.caution(); !caution.empty()) {
        clear_progress();
        fmt::print(stderr, "guidepin: caution: {}.\n", readable(caution));
    }
    return job;
}

Outcome warn_of_defects(job::Job const& job, std::string const& name)
{
    TRY_ASSIGN(record::CheckReport const report, record::check(job.store()));
    if (!report.first) return {};
    clear_progress();
    fmt::print(stderr,
               "guidepin: caution: a record is broken. {}.\nResults from these records prove nothing; use "
               "another copy of {} (\"guidepin check\" tests one).\n",
               readable(report.first->text()), name);
    return {};
}

std::string path_in(World const& world, std::string const& path)
{
    if (path.empty() || path.front() == '/' || world.working_folder.empty()) return path;
    return world.working_folder + "/" + path;
}

Result<job::FileOptions> file_options_of(Arguments const& arguments, World const& world)
{
    job::FileOptions options;
    options.keep_good_rows = arguments.has("--keep-good-rows");
    std::string const separator = arguments.text("--separator");
    if (!separator.empty()) options.separator = separator == "comma" ? ',' : separator == "tab" ? '\t' : ';';
    std::string const decimal = arguments.text("--decimal");
    if (!decimal.empty()) options.decimal = decimal == "point" ? '.' : ',';
    if (arguments.has("--columns")) {
        options.column_map_name = arguments.text("--columns");
        TRY_ASSIGN(options.column_map_text, job::read_file(path_in(world, options.column_map_name)));
    }
    return options;
}

std::string some_of(std::vector<std::string> const& names, std::size_t shown)
{
    std::vector<std::string> const first(
        names.begin(), names.begin() + static_cast<std::ptrdiff_t>(std::min(shown, names.size())));
    std::string text = joined(first, ", ");
    if (names.size() > shown) text += fmt::format(" and {} more", names.size() - shown);
    return text;
}

} // namespace guidepin::cli
