// SPDX-License-Identifier: Apache-2.0
// Bringing in the schedule.
#include "intake/schedule.hpp"
#include "job/open/inside.hpp"

namespace guidepin::job {

namespace {

/// Whether two rows of schedules promise the same: as their records would be written.
bool said_alike(plant::LinkSpec const& a, plant::LinkSpec const& b)
{
    auto const one = schedule_body({a}, {});
    auto const other = schedule_body({b}, {});
    return one && other && *one == *other;
}

/// What only the job knows: categories, chains, applications. Everything that is wrong is listed at once.
class Sifter
{
  public:
    Sifter(JobState const& state, std::size_t listed_at_most)
        : state_(state)
        , listed_at_most_(listed_at_most)
    {
    }

    /// False when the link has a problem.
    bool holds(plant::LinkSpec const& link, std::uint32_t line)
    {
        line_ = line;
        std::size_t const before = problems.count;
        auto const category = state_.tables.category(link.category);
        if (!category) add("category", link.category, category.error().message);
        auto const model = models_.model_for(link);
        if (!model) {
            add("trunk_type", link.trunk_type, model.error().message);
        } else if (auto const inner = inner_connections_of(link, **model); !inner) {
            add("inner_connections", fmt::format("{}", link.inner_connections), inner.error().message);
        }
        if (category) {
            if (auto const limits = limits_of(state_, link); !limits)
                add("category", link.category, limits.error().message);
        }
        for (std::string const& application : link.applications) {
            auto const known = state_.tables.application(application);
            if (!known) add("applications", application, known.error().message);
        }
        if (problems.count == before) {
            if (auto const judged = link_can_be_judged(state_, models_, link); !judged)
                add("category", link.category, judged.error().message);
        }
        bool const good = problems.count == before;
        if (!good) ++problems.rows;
        return good;
    }

    intake::Problems problems;

  private:
    void add(std::string column, std::string value, std::string reason)
    {
        ++problems.count;
        if (problems.listed.size() < listed_at_most_)
            problems.listed.push_back({line_, std::move(column), std::move(value), std::move(reason)});
    }

    JobState const& state_;
    std::size_t listed_at_most_;
    std::uint32_t line_ = 0;
    plant::LinkModels models_{plant::LinkOptions{}};
};

void count_links(JobState const& state, std::vector<plant::LinkSpec> const& links, ScheduleOutcome& outcome)
{
    for (plant::LinkSpec const& link : links) {
        auto const found = state.link_index.find(link.id);
        if (found == state.link_index.end()) {
            ++outcome.added;
        } else if (said_alike(state.links[found->second], link)) {
            ++outcome.unchanged;
        } else {
            ++outcome.replaced;
        }
    }
}

} // namespace

Outcome Job::Inside::decide_schedule(Adding& adding, BroughtFile const& brought, ScheduleOutcome& outcome)
{
    intake::ColumnMap map;
    TRY_ASSIGN(intake::ReadOptions const read, read_options(brought.name, brought.options, map));
    TRY_ASSIGN(auto file, intake::read_schedule(brought.bytes, read));
    if (file.refused) return intake::refusal(read.name, file.bad, file.rows);
    Sifter sifter(state, read.listed_at_most);
    // Good links move to the front, so that a large schedule is in memory once.
    std::vector<plant::LinkSpec>& good = file.content.links;
    std::size_t count = 0;
    for (std::size_t i = 0; i < good.size(); ++i) {
        if (!sifter.holds(good[i], file.content.lines[i])) continue;
        if (count < i) good[count] = std::move(good[i]);
        ++count;
    }
    good.resize(count);
    intake::Problems const& wrong = sifter.problems;
    if (wrong.count > 0 && !brought.options.keep_good_rows)
        return intake::refusal(read.name, wrong, file.rows);
    if (wrong.count > 0) outcome.warnings.push_back(intake::problems_text(wrong));
    if (file.bad.count > 0) outcome.warnings.push_back(intake::problems_text(file.bad));
    for (std::string const& column : file.unused_columns)
        outcome.warnings.push_back(fmt::format("column \"{}\" is not used", column));
    count_links(state, good, outcome);
    SourceFile const source = source_file(brought.name, brought.bytes, "schedule");
    TRY_ASSIGN(std::string source_body, source_file_body(source));
    TRY_ASSIGN(std::string body, schedule_body(good, source));
    TRY(adding.add(kind::source_file, std::move(source_body)));
    return adding.add(kind::schedule, std::move(body));
}

Result<ScheduleOutcome> Job::import_schedule(std::string const& name, std::string_view bytes,
                                             FileOptions const& options)
{
    ScheduleOutcome outcome;
    auto const changed = inside_->change([&](Adding& adding) {
        return inside_->decide_schedule(adding, {name, bytes, options}, outcome);
    });
    TRY(changed);
    return outcome;
}

} // namespace guidepin::job
