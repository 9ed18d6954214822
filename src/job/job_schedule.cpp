// SPDX-License-Identifier: Apache-2.0
// Bringing in the schedule.
#include "intake/schedule.hpp"
#include "job/inside.hpp"

namespace guidepin::job {

namespace {

/// Whether two rows of schedules promise the same: as their records would be written.
bool said_alike(plant::LinkSpec const& a, plant::LinkSpec const& b)
{
    auto const one = schedule_body({a}, {});
    auto const other = schedule_body({b}, {});
    return one && other && *one == *other;
}

} // namespace

Result<ScheduleOutcome> Job::import_schedule(std::string const& name, std::string_view bytes,
                                             FileOptions const& options)
{
    Inside& inside = *inside_;
    intake::ColumnMap map;
    TRY_ASSIGN(intake::ReadOptions const read, inside.read_options(name, options, map));
    TRY_ASSIGN(auto file, intake::read_schedule(bytes, read));
    if (file.refused) return intake::refusal(read.name, file.bad, file.rows);

    // What only the job knows: categories, chains, applications. All that is wrong is told at once.
    ScheduleOutcome outcome;
    intake::Problems wrong;
    plant::LinkModels models{plant::LinkOptions{}};
    std::size_t good_links = 0; // at the front of the links, so that a large schedule is there once
    auto const problem = [&](std::size_t i, std::string column, std::string value, std::string reason) {
        ++wrong.count;
        if (wrong.listed.size() < read.listed_at_most) {
            wrong.listed.push_back(
                {file.content.lines[i], std::move(column), std::move(value), std::move(reason)});
        }
    };
    for (std::size_t i = 0; i < file.content.links.size(); ++i) {
        plant::LinkSpec& link = file.content.links[i];
        std::size_t const before = wrong.count;
        auto const category = inside.state.tables.category(link.category);
        if (!category) problem(i, "category", link.category, category.error().message);
        auto const model = models.model_for(link);
        if (!model) {
            problem(i, "trunk_type", link.trunk_type, model.error().message);
        } else if (auto const inner = inner_connections_of(link, **model); !inner) {
            problem(i, "inner_connections", fmt::format("{}", link.inner_connections), inner.error().message);
        }
        if (category) {
            if (auto const limits = limits_of(inside.state, link); !limits)
                problem(i, "category", link.category, limits.error().message);
        }
        for (std::string const& application : link.applications) {
            auto const known = inside.state.tables.application(application);
            if (!known) problem(i, "applications", application, known.error().message);
        }
        if (wrong.count > before) {
            ++wrong.rows;
        } else {
            if (good_links < i) file.content.links[good_links] = std::move(link);
            ++good_links;
        }
    }
    std::vector<plant::LinkSpec>& good = file.content.links;
    good.resize(good_links);
    if (wrong.count > 0 && !options.keep_good_rows) return intake::refusal(read.name, wrong, file.rows);
    if (wrong.count > 0) outcome.warnings.push_back(intake::problems_text(wrong));
    if (file.bad.count > 0) outcome.warnings.push_back(intake::problems_text(file.bad));
    for (std::string const& column : file.unused_columns)
        outcome.warnings.push_back(fmt::format("column \"{}\" is not used", column));

    SourceFile const source = Inside::source_of(name, bytes, "schedule");
    for (plant::LinkSpec const& link : good) {
        auto const found = inside.state.link_index.find(link.id);
        if (found == inside.state.link_index.end()) {
            ++outcome.added;
        } else if (said_alike(inside.state.links[found->second], link)) {
            ++outcome.unchanged;
        } else {
            ++outcome.replaced;
        }
    }
    TRY_ASSIGN(std::string source_body, source_file_body(source));
    TRY_ASSIGN(std::string body, schedule_body(good, source));
    inside.state.add_links(std::move(good));
    std::vector<record::Draft> drafts; // a list in braces would copy the body
    drafts.push_back(inside.draft(kind::source_file, std::move(source_body)));
    drafts.push_back(inside.draft(kind::schedule, std::move(body)));
    auto const kept = inside.keep(drafts);
    drafts.clear();
    TRY(inside.reload());
    TRY(kept);
    return outcome;
}

} // namespace guidepin::job
