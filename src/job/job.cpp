// SPDX-License-Identifier: Apache-2.0
#include "job/job.hpp"

#include "job/inside.hpp"

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
    TRY(record::create_sqlite(path, create));
    record::OpenOptions open;
    open.maker = create.maker;
    open.access = record::OpenOptions::Access::write;
    open.key = &key;
    TRY_ASSIGN(auto const store, record::open_sqlite(path, open));
    record::JsonWriter opened;
    opened.begin_object().key("job").string(create.job_id).key("title").string(settings.title).end_object();
    TRY_ASSIGN(std::string const opened_body, opened.finish());
    record::Draft const drafts[] = {
        {std::string(kind::job_opened), now_of(actor), actor.name, opened_body},
        {std::string(kind::setting), now_of(actor), actor.name, canonical},
    };
    TRY(record::append(*store, drafts));
    return {};
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
        // Derived tables may be behind the records after a crash between two writes: make them anew before
        // anything else.
        TRY_ASSIGN(std::string const basis, inside.store->derived_basis());
        TRY_ASSIGN(std::string const chains, record::chains_digest(*inside.store));
        if (basis != chains && (!basis.empty() || inside.state.scheduled() > 0)) TRY(job.rebuild());
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
    std::vector<std::uint32_t> moved;
    TRY(inside_->judge(moved));
    return &*inside_->assessment;
}

Result<bool> Job::rebuild()
{
    TRY_ASSIGN(record::Digest const before, record::derived_digest(*inside_->store));
    inside_->written.reset(); // whatever stands there is written anew
    inside_->assessment.reset();
    TRY_ASSIGN(auto const write, inside_->store->begin_write());
    TRY(inside_->store_derived(*write));
    TRY(write->commit());
    TRY_ASSIGN(record::Digest const after, record::derived_digest(*inside_->store));
    return before == after;
}

} // namespace guidepin::job
