// SPDX-License-Identifier: Apache-2.0
#include "record/check.hpp"

#include "record/canonical_json.hpp"
#include "record/chain.hpp"

#include <fmt/format.h>

namespace guidepin::record {

namespace {

/// Walks the chains in order, and the heads, which have the same order, beside them.
class Walk
{
  public:
    explicit Walk(std::vector<Head> heads)
        : heads_(std::move(heads))
    {
    }

    /// False when a defect was found.
    bool record(RecordView const& record)
    {
        if (record.station != station_ && !next_station(record)) return false;
        ++report.records;
        detail::Tip const before = tip_;
        auto const follows = detail::follow(tip_, record);
        if (!follows) {
            // A gap: the record that is missing, as far as we know it, is the one to name.
            bool const gap = record.sequence != before.sequence + 1;
            return defect(record, gap ? before.sequence + 1 : record.sequence, follows.error().message);
        }
        if (record.sequence == 1) {
            auto key = key_from_first_record(record);
            if (!key) return defect(record, record.sequence, key.error().message);
            key_ = *key;
        }
        auto const canonical = require_canonical(record.body);
        if (!canonical)
            return defect(record, record.sequence, "its body is not canonical: " + canonical.error().message);
        if (!record.body.starts_with('{'))
            return defect(record, record.sequence, "its body is not an object");
        last_ = Record(record);
        last_.body.clear();
        return heads_up_to(record);
    }

    bool end() { return finish_station() && no_heads_left(); }

    bool unreadable(std::string const& message)
    {
        report.first = Defect{station_, tip_.sequence + 1, "", last_.time, "it cannot be read: " + message};
        return false;
    }

    CheckReport report;

  private:
    bool defect(RecordView const& record, std::int64_t sequence, std::string reason)
    {
        std::string kind = sequence == record.sequence ? std::string(record.kind) : std::string();
        report.first =
            Defect{std::string(record.station), sequence, std::move(kind), record.time, std::move(reason)};
        return false;
    }

    bool next_station(RecordView const& record)
    {
        if (!finish_station()) return false;
        ++report.stations;
        station_ = record.station;
        tip_ = {};
        signed_to_ = 0;
        return true;
    }

    bool finish_station()
    {
        if (station_.empty()) return true;
        if (next_head_ < heads_.size() && heads_[next_head_].station == station_) {
            report.first = Defect{
                station_, tip_.sequence + 1, "", last_.time,
                fmt::format("it is missing: the chain ends at record {}, but was signed up to record {}",
                            tip_.sequence, heads_[next_head_].sequence)};
            return false;
        }
        if (signed_to_ != tip_.sequence) {
            return defect(
                last_.view(), tip_.sequence,
                fmt::format("it is not signed: the station's signatures end at record {}", signed_to_));
        }
        return true;
    }

    bool no_heads_left()
    {
        if (next_head_ == heads_.size()) return true;
        Head const& head = heads_[next_head_];
        report.first =
            Defect{head.station, head.sequence, "", {}, "a signature names a record that is not here"};
        return false;
    }

    bool heads_up_to(RecordView const& record)
    {
        while (next_head_ < heads_.size()) {
            Head const& head = heads_[next_head_];
            if (std::pair(std::string_view(head.station), head.sequence) >
                std::pair(record.station, record.sequence))
                return true;
            if (head.station != record.station || head.sequence != record.sequence) return no_heads_left();
            if (head.hash != record.hash)
                return defect(record, record.sequence, "the signature over it names another hash");
            if (!signature_holds(key_, head_statement(head.station, head.sequence, head.hash),
                                 head.signature)) {
                return defect(record, record.sequence,
                              "the signature over it does not hold with the station's key");
            }
            signed_to_ = head.sequence;
            ++report.heads;
            ++next_head_;
        }
        return true;
    }

    std::vector<Head> heads_;
    std::size_t next_head_ = 0;
    std::string station_;
    detail::Tip tip_;
    PublicKey key_;
    Record last_;
    std::int64_t signed_to_ = 0;
};

} // namespace

std::string Defect::text() const
{
    if (station.empty()) return reason;
    std::string about;
    if (!kind.empty()) about = fmt::format(" ({}, {})", kind, instant_text(time));
    return fmt::format("Station {}, record {}{}: {}", station, sequence, about, reason);
}

Result<CheckReport> check(Store const& store)
{
    TRY_ASSIGN(auto heads, store.heads());
    Walk walk(std::move(heads));
    RecordQuery all;
    all.order = RecordQuery::Order::chain;
    auto const visited = store.visit(all, [&](RecordView const& record) -> Outcome {
        if (walk.record(record)) return {};
        return Error{Errc::damaged, "found"};
    });
    if (walk.report.first) return walk.report;
    if (!visited) {
        if (visited.error().code != Errc::damaged) return visited.error();
        walk.unreadable(visited.error().message);
        return walk.report;
    }
    if (!walk.end()) return walk.report;
    auto const container = store.verify_container();
    if (!container) {
        if (container.error().code != Errc::damaged) return container.error();
        walk.report.first = Defect{"", 0, "", {}, container.error().message};
    }
    return walk.report;
}

} // namespace guidepin::record
