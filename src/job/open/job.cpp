// SPDX-License-Identifier: Apache-2.0
#include "job/open/job.hpp"

#include "job/open/inside.hpp"
#include "record/derived_digest.hpp"

namespace guidepin::job {

namespace {

record::Maker maker_of(Actor const& actor)
{
    return {actor.program, facts::built_in_tables().version};
}

} // namespace

Job::Job()
    : inside_(std::make_unique<Inside>())
{
}
Job::Job(Job&&) noexcept = default;
Job& Job::operator=(Job&&) noexcept = default;
Job::~Job() = default;

Outcome Job::create(std::string const& path, Settings const& settings, Actor const& actor)
{
    TRY_ASSIGN(facts::Tables const tables, tables_of(settings));
    TRY(rule_set_of(settings, tables));
    std::string const options = settings_to_json(settings);
    TRY_ASSIGN(std::string const canonical, record::canonicalised(options));
    TRY_ASSIGN(auto key, record::StationKey::read_or_make(actor.key_path));
    record::CreateOptions create;
    create.maker = maker_of(actor);
    create.job_id = record::sha256(canonical + instant_text(now_of(actor))).hex().substr(0, 32);
    create.creating_options = canonical;
    TRY_ASSIGN(std::string const opened_body, job_opened_body({create.job_id, settings.title}));
    create.opening = {{std::string(kind::job_opened), now_of(actor), actor.name, opened_body},
                      {std::string(kind::setting), now_of(actor), actor.name, canonical}};
    create.key = &key;
    return record::create_sqlite(path, create);
}

Result<Job> Job::open(std::string const& path, Actor const& actor, bool writing)
{
    Job job;
    Inside& inside = *job.inside_;
    inside.actor = actor;
    record::OpenOptions open;
    open.maker = maker_of(actor);
    open.access = writing ? record::OpenOptions::Access::write : record::OpenOptions::Access::read;
    if (writing) {
        TRY_ASSIGN(auto key, record::StationKey::read_or_make(actor.key_path));
        inside.key = std::make_unique<record::StationKey>(std::move(key));
        open.key = inside.key.get();
    }
    TRY_ASSIGN(inside.store, record::open_sqlite(path, open));
    TRY(inside.reload());
    if (writing) {
        // Derived tables may be behind the records after a crash between two writes: recompute them before
        // anything else.
        TRY_ASSIGN(std::string const basis, inside.store->derived_basis());
        if (basis != inside.version && (!basis.empty() || inside.state.scheduled() > 0)) TRY(job.rebuild());
    }
    return job;
}

JobState const& Job::state() const
{
    return inside_->state;
}
record::Store const& Job::store() const
{
    return *inside_->store;
}

Result<Assessment const*> Job::assessment()
{
    TRY(inside_->judge());
    return &*inside_->assessment;
}

Result<record::DerivedTables const*> Job::rows()
{
    TRY(inside_->follow());
    return &*inside_->tables;
}

Result<bool> Job::rebuild()
{
    Inside& inside = *inside_;
    TRY_ASSIGN(auto const write, inside.store->begin_write());
    TRY(inside.catch_up());
    TRY_ASSIGN(auto const rows, inside.store->derived_tables());
    TRY_ASSIGN(auto const before, record::DerivedDigest::of(rows));
    inside.assessment.reset();
    inside.tables.reset(); // whatever the file holds is written again
    TRY(inside.replace_rows(*write));
    TRY(write->commit());
    return before.hex() == inside.tables_digest;
}

std::string Job::caution() const
{
    std::string const of_store = inside_->store->caution();
    if (of_store.empty() || inside_->rows_caution.empty()) return of_store + inside_->rows_caution;
    return of_store + ". " + inside_->rows_caution;
}

std::uint64_t Job::generation() const
{
    return inside_->generation;
}

std::string const& Job::version() const
{
    return inside_->version;
}

void Job::act_as(std::string name)
{
    inside_->actor.name = std::move(name);
}

} // namespace guidepin::job
