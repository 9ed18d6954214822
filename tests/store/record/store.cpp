// SPDX-License-Identifier: Apache-2.0
// The same behaviour in every store: appending, reading, all or nothing, derived rows.
#include "base/text.hpp"
#include "record/chain.hpp"
#include "record/check.hpp"

#include "all_records.hpp"
#include "places.hpp"
#include "record/derived_digest.hpp"
#include "record/derived_query.hpp"

namespace guidepin::record::test {
namespace store_test {

template <class Place>
class Stores : public ::testing::Test
{
  public:
    StationKey key = key_number(1);
    Place place;
    std::unique_ptr<Store> made = place.make(&key);
};
TYPED_TEST_SUITE(Stores, Places);

std::vector<std::string> bodies(Store const& store, RecordQuery const& query)
{
    auto const found = records(store, query);
    EXPECT_TRUE(found);
    std::vector<std::string> texts;
    for (Record const& record : *found) texts.push_back(record.body);
    return texts;
}

TYPED_TEST(Stores, AppendsAChainThatHolds)
{
    auto& store = *this->made;
    auto const first = append(store, notes(1, 3));
    ASSERT_TRUE(first) << first.error().message;
    EXPECT_EQ(first->station, this->key.station());
    EXPECT_EQ(first->first, 2) << "the station's key comes first";
    EXPECT_EQ(first->last, 4);
    auto const second = append(store, notes(4, 2));
    ASSERT_TRUE(second);
    EXPECT_EQ(second->first, 5);
    EXPECT_EQ(second->last, 6);

    auto const report = check(store);
    ASSERT_TRUE(report) << report.error().message;
    EXPECT_FALSE(report->first) << report->first->text();
    EXPECT_EQ(report->records, 6);
    EXPECT_EQ(report->stations, 1);
    EXPECT_EQ(report->heads, 2);

    auto const key_record = store.find(this->key.station(), 1);
    ASSERT_TRUE(key_record && *key_record);
    EXPECT_EQ(key_from_first_record((*key_record)->view()).value(), this->key.public_key());
    auto const last = store.find(this->key.station(), 6);
    ASSERT_TRUE(last && *last);
    EXPECT_EQ((*last)->body, note(5).body);
    EXPECT_EQ((*last)->operator_name, "A. Finn");
    EXPECT_EQ((*last)->program, "0.1.0");
    EXPECT_EQ((*last)->facts, "facts-1");
    EXPECT_EQ((*last)->time.ms, note(5).time.ms);
    EXPECT_EQ((*last)->time.offset_minutes, 60);
    EXPECT_EQ(sha256(envelope((*last)->view())), (*last)->hash);
    auto const by_hash = store.find((*last)->hash);
    ASSERT_TRUE(by_hash && *by_hash);
    EXPECT_EQ((*by_hash)->sequence, 6);
    EXPECT_FALSE(store.find(sha256("nothing"))->has_value());
    EXPECT_FALSE(store.find("nobody", 1)->has_value());
    EXPECT_EQ(store.count().value(), 6);
    EXPECT_EQ(store.count(kind::note).value(), 5);
}

TYPED_TEST(Stores, ReadsByKindTimeAndSequence)
{
    auto& store = *this->made;
    std::vector<Draft> const drafts{
        draft(kind::note, 3000, R"({"n":3})"), draft(kind::reference, 1000, R"({"n":1})"),
        draft(kind::note, 2000, R"({"n":2})"), draft(kind::setting, 4000, R"({"n":4})")};
    ASSERT_TRUE(append(store, drafts));
    using Texts = std::vector<std::string>;
    RecordQuery query;
    query.kinds = {std::string(kind::note)};
    EXPECT_EQ(bodies(store, query), (Texts{R"({"n":2})", R"({"n":3})"}));
    query.order = RecordQuery::Order::chain;
    EXPECT_EQ(bodies(store, query), (Texts{R"({"n":3})", R"({"n":2})"}));
    query.kinds.push_back(std::string(kind::reference));
    EXPECT_EQ(bodies(store, query), (Texts{R"({"n":3})", R"({"n":1})", R"({"n":2})"}));
    query.order = RecordQuery::Order::time;
    EXPECT_EQ(bodies(store, query), (Texts{R"({"n":1})", R"({"n":2})", R"({"n":3})"}));
    query.from_sequence = 4;
    EXPECT_EQ(bodies(store, query), (Texts{R"({"n":2})"}));
    query = {};
    query.from_sequence = 4;
    query.station = this->key.station();
    EXPECT_EQ(bodies(store, query), (Texts{R"({"n":2})", R"({"n":4})"}));
    query.station = "nobody";
    EXPECT_TRUE(bodies(store, query).empty());

    int seen = 0;
    auto const stopped = store.visit({}, [&](RecordView const&) -> Outcome {
        return ++seen == 2 ? Outcome(Error{Errc::refused, "enough"}) : Outcome();
    });
    ASSERT_FALSE(stopped);
    EXPECT_EQ(stopped.error().message, "enough");
    EXPECT_EQ(seen, 2);
}

TYPED_TEST(Stores, KeepsAllOfAChangeOrNothing)
{
    auto& store = *this->made;
    ASSERT_TRUE(append(store, notes(1, 2)));
    auto const before = chains_digest(store).value();
    {
        auto write = store.begin_write();
        ASSERT_TRUE(write);
        ASSERT_TRUE((*write)->append(notes(3, 2)));
        ASSERT_TRUE((*write)->set_property("x", "1"));
    } // not committed
    EXPECT_EQ(store.count().value(), 3);
    EXPECT_FALSE(store.property("x")->has_value());
    EXPECT_EQ(chains_digest(store).value(), before);

    std::vector<Draft> drafts = notes(3, 2);
    drafts.push_back(draft(kind::note, 0, "{ }"));
    auto const refused = append(store, drafts);
    ASSERT_FALSE(refused);
    EXPECT_EQ(refused.error().code, Errc::invalid_input);
    EXPECT_EQ(store.count().value(), 3);
    EXPECT_FALSE(append(store, std::vector{draft("gossip", 0, "{}")}));
    EXPECT_FALSE(append(store, std::vector{draft(kind::note, 0, "[]")}));
    EXPECT_FALSE(append(store, std::vector{draft(kind::station_key, 0, "{}")}));
    EXPECT_FALSE(append(store, std::vector{draft(kind::note, INT64_MAX, "{}")}));
    EXPECT_EQ(store.count().value(), 3);

    // A change that failed cannot be committed after all.
    auto write = store.begin_write();
    ASSERT_TRUE(write);
    EXPECT_FALSE((*write)->append(drafts));
    EXPECT_FALSE((*write)->commit());
    write = Error{Errc::internal, "dropped"};
    EXPECT_EQ(store.count().value(), 3);
    EXPECT_FALSE(check(store)->first);
}

TYPED_TEST(Stores, SaysWhatTheChainsWillBe)
{
    auto& store = *this->made;
    auto write = store.begin_write();
    ASSERT_TRUE(write);
    ASSERT_TRUE((*write)->append(notes(1, 2)));
    ASSERT_TRUE((*write)->append(notes(3, 2)));
    auto const promised = (*write)->chains_digest().value();
    ASSERT_TRUE((*write)->replace_derived({}, promised));
    ASSERT_TRUE((*write)->commit());
    EXPECT_EQ(chains_digest(store).value(), promised);
    EXPECT_EQ(store.derived_basis().value(), promised);
    EXPECT_EQ(store.heads()->size(), 1U) << "one change, one signature";
}

TYPED_TEST(Stores, NeedsAKeyToAppend)
{
    auto const store = this->place.make(nullptr);
    auto const refused = append(*store, notes(1, 1));
    ASSERT_FALSE(refused);
    EXPECT_EQ(refused.error().code, Errc::refused);
    EXPECT_EQ(store->station(), "");
}

TYPED_TEST(Stores, KeepsProperties)
{
    auto& store = *this->made;
    EXPECT_EQ(store.property("job-id").value(), "job-1");
    EXPECT_EQ(store.property("created-by").value(), "0.1.0");
    auto write = store.begin_write();
    ASSERT_TRUE((*write)->set_property("view", "rows"));
    ASSERT_TRUE((*write)->set_property("view", "list"));
    ASSERT_TRUE((*write)->commit());
    EXPECT_EQ(store.property("view").value(), "list");
}

DerivedLink link_row(std::string id, std::string zone, std::string state, std::optional<double> margin)
{
    DerivedLink row;
    row.link = id;
    row.zone = std::move(zone);
    row.state = std::move(state);
    row.worst_margin_db = margin;
    row.search = lowered(id + " " + row.zone);
    row.row = std::string("\x00\xFF\x01", 3);
    return row;
}

std::string ids(LinkPage const& page)
{
    std::string text;
    for (DerivedLink const& row : page.rows) text += row.link + " ";
    return text;
}

TYPED_TEST(Stores, FindsDerivedLinks)
{
    auto& store = *this->made;
    DerivedTables tables;
    tables.links = {link_row("L-03", "Hall 2", "pass", 0.4), link_row("L-01", "Hall 1", "fail", -0.2),
                    link_row("L-02", "Hall 1", "open", {}), link_row("L-04", "Hall 2", "pass", 0.1)};
    tables.links[0].day = "2026-03-02";
    tables.links[0].tested_at_ms = 20;
    tables.links[3].tested_at_ms = 10;
    tables.links[0].conformity = 0.99;
    tables.links[2].scheduled = false;
    auto write = store.begin_write();
    ASSERT_TRUE((*write)->replace_derived(tables, "basis-1"));
    ASSERT_TRUE((*write)->commit());
    write = Error{Errc::internal, "dropped"};

    DerivedTables const kept = store.derived_tables().value();
    auto const page = [&](auto change) {
        LinkQuery query;
        change(query);
        return select_links(kept, query);
    };
    EXPECT_EQ(ids(page([](LinkQuery&) {})), "L-01 L-02 L-03 L-04 ");
    EXPECT_EQ(ids(page([](LinkQuery& q) { q.descending = true; })), "L-04 L-03 L-02 L-01 ");
    EXPECT_EQ(ids(page([](LinkQuery& q) { q.zone = "Hall 1"; })), "L-01 L-02 ");
    EXPECT_EQ(ids(page([](LinkQuery& q) { q.state = "pass"; })), "L-03 L-04 ");
    EXPECT_EQ(ids(page([](LinkQuery& q) { q.day = "2026-03-02"; })), "L-03 ");
    EXPECT_EQ(ids(page([](LinkQuery& q) { q.needle = "ALL 2"; })), "L-03 L-04 ");
    EXPECT_EQ(ids(page([](LinkQuery& q) { q.needle = "%"; })), "") << "no wildcards";
    EXPECT_EQ(ids(page([](LinkQuery& q) { q.needle = "'; drop table derived_link; --"; })), "");
    EXPECT_EQ(ids(page([](LinkQuery& q) { q.scheduled = false; })), "L-02 ");
    EXPECT_EQ(ids(page([](LinkQuery& q) { q.margin_below_db = 0.2; })), "L-01 L-04 ");
    EXPECT_EQ(ids(page([](LinkQuery& q) { q.sort = LinkSort::margin; })), "L-01 L-04 L-03 L-02 ");
    EXPECT_EQ(ids(page([](LinkQuery& q) {
                  q.sort = LinkSort::margin;
                  q.descending = true;
              })),
              "L-03 L-04 L-01 L-02 ");
    EXPECT_EQ(ids(page([](LinkQuery& q) { q.sort = LinkSort::tested; })), "L-04 L-03 L-01 L-02 ");
    EXPECT_EQ(ids(page([](LinkQuery& q) { q.sort = LinkSort::conformity; })), "L-03 L-01 L-02 L-04 ");
    EXPECT_EQ(ids(page([](LinkQuery& q) {
                  q.sort = LinkSort::zone;
                  q.descending = true;
              })),
              "L-03 L-04 L-01 L-02 ");
    EXPECT_EQ(ids(page([](LinkQuery& q) { q.sort = LinkSort::state; })), "L-01 L-02 L-03 L-04 ");
    auto const window = page([](LinkQuery& q) {
        q.offset = 1;
        q.limit = 2;
    });
    EXPECT_EQ(ids(window), "L-02 L-03 ");
    EXPECT_EQ(window.total, 4);
    EXPECT_EQ(ids(page([](LinkQuery& q) {
                  q.offset = 9;
                  q.limit = 2;
              })),
              "");

    DerivedLink const* const one = find_link(kept, "L-03");
    ASSERT_NE(one, nullptr);
    EXPECT_EQ(*one, tables.links[0]);
    EXPECT_EQ(find_link(kept, "L-99"), nullptr);
}

std::string digest_of_rows(Store const& store)
{
    return DerivedDigest::of(store.derived_tables().value()).value().hex();
}

TYPED_TEST(Stores, RebuildGivesTheSameDigest)
{
    auto& store = *this->made;
    DerivedTables tables;
    tables.links = {link_row("B", "z", "pass", 0.25), link_row("A", "z", "fail", -1e-7)};
    tables.tests = {DerivedTest{"A", "s2", 2, 5, 60, "R1", "op", "pass", true, 0.5},
                    DerivedTest{"A", "s1", 9, 7, 0, "R1", "op", "fail", false, {}}};
    tables.findings = {
        DerivedFinding{"f2", "drift", "hold", "reference", "R1", {}, 850, "m", "a", "s1:4", "{}"},
        DerivedFinding{"f1", "loss", "fail", "link", "A", 7, {}, "m", "a", "", "{}"}};
    tables.progress = {DerivedProgress{"zone", "z", "pass", 1}, DerivedProgress{"job", "", "fail", 1}};
    tables.texts = {DerivedText{"chart", "{}"}};
    auto const write_all = [&](DerivedTables const& rows, bool replace) {
        auto write = store.begin_write();
        ASSERT_TRUE(write);
        auto const done =
            replace ? (*write)->replace_derived(rows, "b") : (*write)->upsert_derived(rows, "b");
        ASSERT_TRUE(done) << done.error().message;
        ASSERT_TRUE((*write)->commit());
    };
    write_all(tables, true);
    std::string const digest = digest_of_rows(store);
    EXPECT_EQ(store.derived_digest().value(), digest) << "the digest that is kept is that of the rows";
    DerivedTables const kept = store.derived_tables().value();
    EXPECT_EQ(tests_of(kept, "A").front().station, "s2") << "oldest first";
    EXPECT_EQ(kept.findings.front().id, "f1");
    EXPECT_EQ(progress_of(kept, "zone").front(), tables.progress[0]);
    EXPECT_EQ(kept.texts.front().text, "{}");

    DerivedTables changed;
    changed.links = {link_row("A", "z", "held", {})};
    write_all(changed, false);
    EXPECT_NE(digest_of_rows(store), digest);
    EXPECT_EQ(store.derived_digest().value(), digest_of_rows(store)) << "a change of one row moves it";
    EXPECT_EQ(store.derived_tables()->links.size(), 2U);
    std::swap(tables.links[0], tables.links[1]); // the order of computing does not matter
    std::swap(tables.tests[0], tables.tests[1]);
    write_all(tables, true);
    EXPECT_EQ(digest_of_rows(store), digest);
    EXPECT_EQ(store.derived_digest().value(), digest);
    // Guard, the same in every store: what a rebuild has to give is the same bytes on any machine.
    static std::string first_place;
    if (first_place.empty()) first_place = digest;
    EXPECT_EQ(digest, first_place);
}

} // namespace store_test
} // namespace guidepin::record::test
