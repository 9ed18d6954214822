// SPDX-License-Identifier: Apache-2.0
// The store's twin in memory: the same behaviour, nothing kept.
#include "record/memory/memory_store.hpp"

#include "record/chain.hpp"
#include "record/derived_digest.hpp"

#include <algorithm>
#include <map>
#include <tuple>

#include <fmt/format.h>

namespace guidepin::record {

namespace {

using ChainKey = std::pair<std::string, std::int64_t>;

template <class Map>
auto values_of(Map const& map)
{
    std::vector<typename Map::mapped_type> values;
    for (auto const& entry : map) values.push_back(entry.second);
    return values;
}

/// All of it as a value: a change works on a copy, and committing moves the copy into place.
struct State
{
    std::map<ChainKey, Record> records;
    std::map<ChainKey, Head> heads;
    std::map<std::string, std::string, std::less<>> properties;
    std::map<std::string, DerivedLink, std::less<>> links;
    std::map<std::tuple<std::string, std::string, std::int64_t>, DerivedTest> tests;
    std::map<std::string, DerivedFinding, std::less<>> findings;
    std::map<std::tuple<std::string, std::string, std::string>, DerivedProgress> progress;
    std::map<std::string, DerivedText, std::less<>> texts;

    std::vector<Head> latest_heads() const
    {
        std::vector<Head> latest;
        for (auto const& entry : heads) {
            if (!latest.empty() && latest.back().station == entry.second.station) latest.pop_back();
            latest.push_back(entry.second);
        }
        return latest;
    }

    DerivedTables derived() const
    {
        return DerivedTables{values_of(links), values_of(tests), values_of(findings), values_of(progress),
                             values_of(texts)};
    }
};

class MemoryStore final : public Store
{
  public:
    MemoryStore(CreateOptions const& create, OpenOptions const& open)
        : options_(open)
        , station_(open.key != nullptr ? open.key->station() : std::string())
    {
        state_.properties["created-by"] = create.maker.program;
        state_.properties["created-with"] = create.creating_options;
        state_.properties["job-id"] = create.job_id;
    }

    MemoryStore(std::string name, std::string job_id, std::vector<Record> records, std::vector<Head> heads)
        : name_(std::move(name))
    {
        state_.properties["job-id"] = std::move(job_id);
        for (Record& record : records) {
            ChainKey key{record.station, record.sequence};
            state_.records.emplace(std::move(key), std::move(record));
        }
        for (Head& head : heads) {
            ChainKey key{head.station, head.sequence};
            state_.heads.emplace(std::move(key), std::move(head));
        }
    }

    std::string const& name() const override { return name_; }
    std::string const& station() const override { return station_; }
    Result<std::unique_ptr<Write>> begin_write() override;

    Outcome visit(RecordQuery const& query, RecordVisitor const& visitor) const override
    {
        std::vector<Record const*> found;
        for (auto const& entry : state_.records) {
            Record const& record = entry.second;
            if (query.station && record.station != *query.station) continue;
            if (record.sequence < query.from_sequence || record.sequence > query.to_sequence) continue;
            bool const wanted = query.kinds.empty() || std::find(query.kinds.begin(), query.kinds.end(),
                                                                 record.kind) != query.kinds.end();
            if (wanted) found.push_back(&record);
        }
        if (query.order == RecordQuery::Order::time) {
            std::stable_sort(found.begin(), found.end(),
                             [](Record const* a, Record const* b) { return a->time < b->time; });
        }
        for (Record const* record : found) TRY(visitor(record->view()));
        return {};
    }

    Result<std::optional<Record>> find(std::string_view station, std::int64_t sequence) const override
    {
        auto const at = state_.records.find({std::string(station), sequence});
        return at == state_.records.end() ? std::optional<Record>{} : std::optional<Record>(at->second);
    }

    Result<std::optional<Record>> find(Digest const& hash) const override
    {
        for (auto const& entry : state_.records) {
            if (entry.second.hash == hash) return std::optional<Record>(entry.second);
        }
        return std::optional<Record>{};
    }

    Result<std::int64_t> count(std::string_view kind) const override
    {
        return static_cast<std::int64_t>(
            std::count_if(state_.records.begin(), state_.records.end(),
                          [&](auto const& entry) { return kind.empty() || entry.second.kind == kind; }));
    }

    Result<std::vector<Head>> heads() const override { return values_of(state_.heads); }
    Result<std::vector<Head>> latest_heads() const override { return state_.latest_heads(); }

    Result<std::optional<std::string>> property(std::string_view name) const override
    {
        auto const at = state_.properties.find(name);
        return at == state_.properties.end() ? std::optional<std::string>{}
                                             : std::optional<std::string>(at->second);
    }

    Result<std::string> derived_basis() const override
    {
        TRY_ASSIGN(auto const basis, property("derived-basis"));
        return basis.value_or("");
    }

    Result<std::string> derived_digest() const override
    {
        TRY_ASSIGN(auto const digest, property("derived-digest"));
        return digest.value_or("");
    }

    Result<DerivedTables> derived_tables() const override { return state_.derived(); }

    Result<std::unique_ptr<Snapshot>> snapshot() const override { return std::make_unique<Snapshot>(); }
    Outcome still_there() const override { return {}; }
    std::string caution() const override { return {}; }
    Result<std::int64_t> changes_of_others() const override { return std::int64_t{0}; }

    Outcome verify_container() const override { return {}; }

  private:
    friend class MemoryWrite;
    State state_;
    OpenOptions options_;
    std::string name_ = "The job in memory";
    std::string station_;
    bool being_written_ = false;
};

class MemoryWrite final : public Write
{
  public:
    explicit MemoryWrite(MemoryStore& store)
        : store_(store)
        , state_(store.state_)
    {
        store_.being_written_ = true;
        auto const after = state_.records.upper_bound({store_.station_, INT64_MAX});
        if (after != state_.records.begin() && std::prev(after)->second.station == store_.station_) {
            tip_ = {std::prev(after)->second.sequence, std::prev(after)->second.hash};
        }
        signed_to_ = tip_.sequence;
    }
    ~MemoryWrite() override { finish(); }

    Result<Appended> append(std::span<Draft const> drafts) override
    {
        TRY(usable());
        if (store_.options_.key == nullptr) return detail::no_key(store_.name_);
        auto appended = detail::grow(tip_, store_.options_.key, store_.options_.maker, drafts,
                                     [this](RecordView const& record) { return insert(record); });
        if (!appended) failed_ = true;
        return appended;
    }

    Outcome adopt(std::span<Record const> records, std::span<Head const> heads) override
    {
        TRY(usable());
        failed_ = true;
        for (Record const& record : records) {
            TRY(insert(record.view()));
            if (record.station != store_.station_ || record.sequence <= tip_.sequence) continue;
            tip_ = {record.sequence, record.hash};
            signed_to_ = tip_.sequence;
        }
        for (Head const& head : heads) {
            auto const [at, added] = state_.heads.emplace(ChainKey{head.station, head.sequence}, head);
            if (added || at->second == head) continue;
            return Error{Errc::conflict, fmt::format("Station {}, record {}: two signatures differ",
                                                     head.station, head.sequence)};
        }
        failed_ = false;
        return {};
    }

    Outcome set_property(std::string_view name, std::string_view value) override
    {
        TRY(usable());
        state_.properties[std::string(name)] = value;
        return {};
    }

    Outcome replace_derived(DerivedTables const& tables, std::string_view basis) override
    {
        TRY(usable());
        state_.links.clear();
        state_.tests.clear();
        state_.findings.clear();
        state_.progress.clear();
        state_.texts.clear();
        return upsert_derived(tables, basis);
    }

    Outcome upsert_derived(DerivedTables const& tables, std::string_view basis) override
    {
        TRY(usable());
        for (DerivedLink const& row : tables.links) state_.links[row.link] = row;
        for (DerivedTest const& row : tables.tests) state_.tests[{row.link, row.station, row.sequence}] = row;
        for (DerivedFinding const& row : tables.findings) state_.findings[row.id] = row;
        for (DerivedProgress const& row : tables.progress)
            state_.progress[{row.scope, row.name, row.state}] = row;
        for (DerivedText const& row : tables.texts) state_.texts[row.name] = row;
        TRY_ASSIGN(DerivedDigest const digest, DerivedDigest::of(state_.derived()));
        TRY(set_property("derived-digest", digest.hex()));
        return set_property("derived-basis", basis);
    }

    Result<std::string> chains_digest() override
    {
        auto heads = state_.latest_heads();
        if (tip_.sequence > signed_to_) {
            std::erase_if(heads, [this](Head const& head) { return head.station == store_.station_; });
            heads.push_back({store_.station_, tip_.sequence, tip_.hash, {}});
            std::sort(heads.begin(), heads.end(),
                      [](Head const& a, Head const& b) { return a.station < b.station; });
        }
        return record::chains_digest(heads);
    }

    Outcome commit() override
    {
        TRY(usable());
        failed_ = true;
        for (auto const& [station, first] : first_new_) {
            detail::Tip tip;
            if (auto const before = state_.records.find({station, first - 1});
                before != state_.records.end()) {
                tip = {before->second.sequence, before->second.hash};
            }
            for (auto at = state_.records.lower_bound({station, first});
                 at != state_.records.end() && at->second.station == station; ++at) {
                auto const follows = detail::follow(tip, at->second.view());
                if (!follows)
                    return follows.error().within(
                        fmt::format("Station {}, record {}", station, at->second.sequence));
            }
        }
        if (tip_.sequence > signed_to_) {
            Head const head = signed_head(*store_.options_.key, tip_.sequence, tip_.hash);
            state_.heads[{head.station, head.sequence}] = head;
        }
        store_.state_ = std::move(state_);
        finish();
        return {};
    }

  private:
    Outcome usable() const
    {
        if (open_ && !failed_) return {};
        return Error{Errc::internal, "A change that failed or was committed cannot go on"};
    }

    void finish()
    {
        if (open_) store_.being_written_ = false;
        open_ = false;
    }

    Outcome insert(RecordView const& record)
    {
        ChainKey const key{std::string(record.station), record.sequence};
        if (!state_.records.emplace(key, Record(record)).second) {
            return Error{Errc::damaged,
                         fmt::format("Station {} has a record {} already", record.station, record.sequence)};
        }
        auto const [at, added] = first_new_.emplace(key.first, key.second);
        if (!added) at->second = std::min(at->second, key.second);
        return {};
    }

    MemoryStore& store_;
    State state_;
    detail::Tip tip_;
    std::int64_t signed_to_ = 0;
    std::map<std::string, std::int64_t> first_new_;
    bool failed_ = false;
    bool open_ = true;
};

Result<std::unique_ptr<Write>> MemoryStore::begin_write()
{
    if (options_.access == OpenOptions::Access::read) {
        return Error{Errc::refused,
                     fmt::format("{} was opened for reading; nothing can be changed in it", name_)};
    }
    if (being_written_) return Error{Errc::busy, fmt::format("{} is being written already", name_)};
    return std::unique_ptr<Write>(std::make_unique<MemoryWrite>(*this));
}

} // namespace

std::unique_ptr<Store> make_memory_store(CreateOptions const& create, OpenOptions const& open)
{
    return std::make_unique<MemoryStore>(create, open);
}

std::unique_ptr<Store> make_memory_store_of(std::string name, std::string job_id, std::vector<Record> records,
                                            std::vector<Head> heads)
{
    return std::make_unique<MemoryStore>(std::move(name), std::move(job_id), std::move(records),
                                         std::move(heads));
}

} // namespace guidepin::record
