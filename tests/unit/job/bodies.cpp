// SPDX-License-Identifier: Apache-2.0
// Oracle: the round trip. What a record says is what was written into it, column by column; the expected
// value is the input itself. Layouts: docs/formats/record-bodies.md.
#include "job/entry/bodies.hpp"
#include "record/canonical_json.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <cmath>
#include <limits>
#include <numeric>

namespace guidepin::job {
namespace bodies_test {

constexpr double nan = std::numeric_limits<double>::quiet_NaN();
constexpr std::int64_t no_time = verdict::ReadingColumns::no_time;

/// Names with what JSON has to escape, and what UTF-8 has to keep.
rc::Gen<std::string> names()
{
    return rc::gen::elementOf(std::vector<std::string>{"R-1", "R-2", "a \"quoted\" one", "tab\there", "Zoë",
                                                       "日本", "back\\slash"});
}

/// Readings as instruments write them, and doubles that need all their digits.
rc::Gen<double> numbers()
{
    return rc::gen::weightedOneOf<double>(
        {{5, rc::gen::map(rc::gen::inRange(-5000, 80000), [](int milli) { return milli / 1000.0; })},
         {1, rc::gen::map(rc::gen::inRange(-1000000, 1000000), [](int n) { return n / 7.0; })},
         {1, rc::gen::just(nan)}});
}

rc::Gen<std::int64_t> times()
{
    // 1970 to 2100, to the millisecond.
    return rc::gen::weightedOneOf<std::int64_t>({{4, rc::gen::inRange<std::int64_t>(0, 4'102'444'800'000)},
                                                 {2, rc::gen::just<std::int64_t>(1'772'435'700'000)},
                                                 {1, rc::gen::just(no_time)}});
}

rc::Gen<std::int16_t> offsets()
{
    return rc::gen::map(rc::gen::inRange(-48, 57),
                        [](int quarters) { return static_cast<std::int16_t>(quarters * 15); });
}

void expect_same(double got, double put)
{
    if (std::isnan(put)) {
        RC_ASSERT(std::isnan(got));
    } else {
        RC_ASSERT(got == put);
    }
}

void expect_same(std::vector<double> const& got, std::vector<double> const& put)
{
    RC_ASSERT(got.size() == put.size());
    for (std::size_t i = 0; i < put.size(); ++i) expect_same(got[i], put[i]);
}

verdict::ReadingColumns some_readings(bool power)
{
    verdict::ReadingColumns readings;
    readings.is_power = power;
    auto const rows = *rc::gen::inRange<std::size_t>(1, 40);
    // Small choices, so that groups of every length come about.
    for (std::size_t i = 0; i < rows; ++i) {
        readings.link.push_back(readings.links.index_of("N-01"));
        readings.launch_end.push_back(
            *rc::gen::elementOf(std::vector{verdict::LaunchEnd::a, verdict::LaunchEnd::b}));
        readings.position.push_back(*rc::gen::inRange<std::int16_t>(1, 65));
        readings.far_position.push_back(*rc::gen::inRange<std::int16_t>(-1, 65));
        readings.wavelength_nm.push_back(*rc::gen::elementOf(std::vector<std::uint16_t>{850, 1310}));
        readings.value.push_back(*numbers());
        readings.length_m.push_back(*numbers());
        readings.taken_ms.push_back(*times());
        readings.offset_minutes.push_back(*rc::gen::elementOf(std::vector<std::int16_t>{0, 60, -570}));
        readings.reference.push_back(*rc::gen::arbitrary<bool>() ? readings.references.index_of(*names())
                                                                 : verdict::Dictionary::missing);
        readings.operator_name.push_back(*rc::gen::arbitrary<bool>() ? readings.operators.index_of(*names())
                                                                     : verdict::Dictionary::missing);
        readings.line.push_back(0);
    }
    return readings;
}

std::string text_of(verdict::Dictionary const& names_of, std::uint32_t index)
{
    return index == verdict::Dictionary::missing ? "(missing)" : names_of.text(index);
}

void expect_same(verdict::ReadingColumns const& got, verdict::ReadingColumns const& put,
                 std::vector<std::uint32_t> const& rows)
{
    RC_ASSERT(got.size() == rows.size());
    for (std::size_t i = 0; i < rows.size(); ++i) {
        std::uint32_t const row = rows[i];
        RC_ASSERT(got.links.text(got.link[i]) == put.links.text(put.link[row]));
        RC_ASSERT(got.launch_end[i] == put.launch_end[row]);
        RC_ASSERT(got.position[i] == put.position[row]);
        RC_ASSERT(got.far_position[i] == put.far_position[row]);
        RC_ASSERT(got.wavelength_nm[i] == put.wavelength_nm[row]);
        expect_same(got.value[i], put.value[row]);
        expect_same(got.length_m[i], put.length_m[row]);
        RC_ASSERT(got.taken_ms[i] == put.taken_ms[row]);
        if (put.taken_ms[row] != no_time) RC_ASSERT(got.offset_minutes[i] == put.offset_minutes[row]);
        RC_ASSERT(text_of(got.references, got.reference[i]) == text_of(put.references, put.reference[row]));
        RC_ASSERT(text_of(got.operators, got.operator_name[i]) ==
                  text_of(put.operators, put.operator_name[row]));
    }
}

std::vector<std::uint32_t> all_rows(verdict::ReadingColumns const& readings)
{
    std::vector<std::uint32_t> rows(readings.size());
    std::iota(rows.begin(), rows.end(), 0u);
    return rows;
}

RC_GTEST_PROP(LinkTestedBody, readings_come_back, ())
{
    auto const put = some_readings(false);
    auto const rows = all_rows(put);
    auto const body = link_tested_body(put, rows, "f00d");
    RC_ASSERT(body.has_value());
    verdict::ReadingColumns got;
    RC_ASSERT(add_link_tested(*body, got, nullptr, nullptr).has_value());
    expect_same(got, put, rows);
}

RC_GTEST_PROP(LinkTestedBody, some_rows_in_another_order_come_back, ())
{
    auto const put = some_readings(false);
    std::vector<std::uint32_t> rows;
    for (std::uint32_t row = 0; row < put.size(); row += 2) rows.insert(rows.begin(), row);
    auto const body = link_tested_body(put, rows, "f00d");
    RC_ASSERT(body.has_value());
    // Columns that stand already are added to.
    verdict::ReadingColumns got;
    RC_ASSERT(add_link_tested(*body, got, nullptr, nullptr).has_value());
    RC_ASSERT(add_link_tested(*body, got, nullptr, nullptr).has_value());
    auto twice = rows;
    twice.insert(twice.end(), rows.begin(), rows.end());
    expect_same(got, put, twice);
}

RC_GTEST_PROP(LinkTestedBody, the_body_is_canonical, ())
{
    auto const put = some_readings(*rc::gen::arbitrary<bool>());
    auto const body = link_tested_body(put, all_rows(put), "f00d");
    RC_ASSERT(body.has_value());
    auto const canonical = record::canonicalised(*body);
    RC_ASSERT(canonical.has_value());
    RC_ASSERT(*canonical == *body);
}

/// Any function that depends on all it is told.
double some_loss(void const* context, std::string_view reference, int position, int wavelength_nm,
                 double power_dbm)
{
    return *static_cast<double const*>(context) + static_cast<double>(reference.size()) + position +
           wavelength_nm - power_dbm;
}

RC_GTEST_PROP(LinkTestedBody, powers_become_losses_row_by_row, ())
{
    auto const put = some_readings(true);
    auto const rows = all_rows(put);
    auto const body = link_tested_body(put, rows, "f00d");
    RC_ASSERT(body.has_value());
    double const offset = 0.25;
    verdict::ReadingColumns got;
    RC_ASSERT(add_link_tested(*body, got, &some_loss, &offset).has_value());
    verdict::ReadingColumns expected = put;
    for (std::size_t i = 0; i < put.size(); ++i) {
        std::string const reference =
            put.reference[i] == verdict::Dictionary::missing ? "" : put.references.text(put.reference[i]);
        expected.value[i] =
            some_loss(&offset, reference, put.position[i], put.wavelength_nm[i], put.value[i]);
    }
    expect_same(got, expected, rows);
    RC_ASSERT(!got.is_power);
}

TEST(LinkTestedBody, powers_that_nobody_turns_into_losses_are_not_known)
{
    verdict::ReadingColumns got;
    auto const added = add_link_tested(
        R"({"link":"N-1","readings":[{"end":"a","position":[1],"power_dbm":[-20.5],"wavelength_nm":850}]})",
        got, nullptr, nullptr);
    ASSERT_TRUE(added.has_value());
    ASSERT_EQ(got.size(), 1u);
    EXPECT_TRUE(std::isnan(got.value[0]));
}

TEST(LinkTestedBody, columns_of_different_length_are_damage)
{
    for (
        char const* group :
        {R"({"end":"a","position":[1,2],"attenuation_db":[0.1],"wavelength_nm":850})",
         R"({"end":"a","position":[1,2],"attenuation_db":[0.1,0.2],"far":[1],"wavelength_nm":850})",
         R"({"end":"a","position":[1,2],"attenuation_db":[0.1,0.2],"length_m":[1],"wavelength_nm":850})",
         R"({"end":"a","position":[1,2],"after_ms":[0],"taken_at":"2026-03-02T08:00:00Z","wavelength_nm":850})",
         R"({"end":"a","position":["x"],"attenuation_db":[0.1],"wavelength_nm":850})", R"({"end":"a"})"}) {
        verdict::ReadingColumns got;
        auto const added = add_link_tested(std::string(R"({"link":"N-1","readings":[)") + group + "]}", got,
                                           nullptr, nullptr);
        ASSERT_FALSE(added.has_value()) << group;
        EXPECT_EQ(added.error().code, Errc::damaged) << group;
    }
}

plant::LinkSpec some_link()
{
    plant::LinkSpec link;
    link.id = *names();
    link.zone = *names();
    link.a = {
        *names(), *rc::gen::elementOf(std::vector{plant::Pins::pinned, plant::Pins::unpinned}),
        *rc::gen::elementOf(std::vector{plant::EndFitting::opposed_adapter,
                                        plant::EndFitting::aligned_adapter, plant::EndFitting::bare_plug})};
    link.b = {
        *names(), *rc::gen::elementOf(std::vector{plant::Pins::pinned, plant::Pins::unpinned}),
        *rc::gen::elementOf(std::vector{plant::EndFitting::opposed_adapter,
                                        plant::EndFitting::aligned_adapter, plant::EndFitting::bare_plug})};
    link.category = *rc::gen::elementOf(std::vector<std::string>{"OM4", "OS2"});
    link.length = Metres{*rc::gen::inRange(1, 200000) / 100.0};
    auto const family = plant::parse_family(
        *rc::gen::elementOf(std::vector<std::string>{"mpo-12", "mpo-16", "mpo-24", "mpo-32", "duplex-6"}));
    link.family = *family;
    // Any set of positions but the empty one.
    link.fibres.set(static_cast<std::size_t>(*rc::gen::inRange(0, link.family.positions())));
    for (int p = 0; p < link.family.positions(); ++p) {
        if (*rc::gen::arbitrary<bool>()) link.fibres.set(static_cast<std::size_t>(p));
    }
    link.trunk_type = *rc::gen::elementOf(
        std::vector<std::string>{"A", "B", "module:U1 adapter:opposed trunk:B adapter:opposed module:U1"});
    link.face = *rc::gen::elementOf(std::vector{plant::Face::flat, plant::Face::angled});
    link.inner_connections = *rc::gen::inRange(0, 6);
    link.splices = *rc::gen::inRange(0, 6);
    link.applications = *rc::gen::container<std::vector<std::string>>(names());
    return link;
}

RC_GTEST_PROP(ScheduleBody, links_come_back, ())
{
    std::vector<plant::LinkSpec> put(*rc::gen::inRange<std::size_t>(0, 5));
    for (auto& link : put) link = some_link();
    auto const body = schedule_body(put, {"schedule.csv", 12, "f00d", "schedule"});
    RC_ASSERT(body.has_value());
    auto const got = links_of_schedule(*body);
    RC_ASSERT(got.has_value());
    RC_ASSERT(got->size() == put.size());
    for (std::size_t i = 0; i < put.size(); ++i) {
        plant::LinkSpec const& a = put[i];
        plant::LinkSpec const& b = (*got)[i];
        RC_ASSERT(b.id == a.id);
        RC_ASSERT(b.zone == a.zone);
        for (auto [x, y] : {std::pair{&a.a, &b.a}, {&a.b, &b.b}}) {
            RC_ASSERT(y->name == x->name);
            RC_ASSERT(y->pins == x->pins);
            RC_ASSERT(y->fitting == x->fitting);
        }
        RC_ASSERT(b.category == a.category);
        RC_ASSERT(b.length == a.length);
        RC_ASSERT(b.family == a.family);
        RC_ASSERT(b.fibres == a.fibres);
        RC_ASSERT(b.trunk_type == a.trunk_type);
        RC_ASSERT(b.face == a.face);
        RC_ASSERT(b.inner_connections == a.inner_connections);
        RC_ASSERT(b.splices == a.splices);
        RC_ASSERT(b.applications == a.applications);
    }
}

RC_GTEST_PROP(ReferenceBody, comes_back, ())
{
    ReferenceEntry put;
    put.id = *names();
    put.method = *rc::gen::elementOf(std::vector<std::string>{"one-cord", "two-cord", "three-cord"});
    put.kit = {.source = *names(),
               .meter = *names(),
               .launch = *names(),
               .tail = *names(),
               .substitution = *names()};
    put.instrument_positions = *rc::gen::arbitrary<bool>();
    put.offset_minutes = *offsets();
    put.source_sha256 = "f00d";
    bool any_time = false;
    for (auto n = *rc::gen::inRange(1, 20); n > 0; --n) {
        put.position.push_back(*rc::gen::inRange<std::int16_t>(1, 65));
        put.wavelength_nm.push_back(*rc::gen::elementOf(std::vector<std::uint16_t>{850, 1310, 1550}));
        put.power_dbm.push_back(*numbers());
        put.taken_ms.push_back(*times());
        any_time = any_time || put.taken_ms.back() != no_time;
    }
    auto const body = reference_body(put);
    RC_ASSERT(body.has_value());
    auto const got = reference_of(*body);
    RC_ASSERT(got.has_value());
    RC_ASSERT(got->id == put.id);
    RC_ASSERT(got->method == put.method);
    RC_ASSERT(got->kit.source == put.kit.source);
    RC_ASSERT(got->kit.meter == put.kit.meter);
    RC_ASSERT(got->kit.launch == put.kit.launch);
    RC_ASSERT(got->kit.tail == put.kit.tail);
    RC_ASSERT(got->kit.substitution == put.kit.substitution);
    RC_ASSERT(got->instrument_positions == put.instrument_positions);
    RC_ASSERT(got->source_sha256 == put.source_sha256);
    RC_ASSERT(got->position == put.position);
    RC_ASSERT(got->wavelength_nm == put.wavelength_nm);
    expect_same(got->power_dbm, put.power_dbm);
    RC_ASSERT(got->taken_ms == put.taken_ms);
    if (any_time) RC_ASSERT(got->offset_minutes == put.offset_minutes);
}

RC_GTEST_PROP(CordCheckBody, comes_back, ())
{
    CordCheckEntry put;
    put.id = *names();
    put.reference = *names();
    put.offset_minutes = *offsets();
    put.source_sha256 = "f00d";
    for (auto n = *rc::gen::inRange(1, 20); n > 0; --n) {
        put.position.push_back(*rc::gen::inRange<std::int16_t>(1, 65));
        put.far_position.push_back(*rc::gen::inRange<std::int16_t>(-1, 65));
        put.wavelength_nm.push_back(*rc::gen::elementOf(std::vector<std::uint16_t>{850, 1310, 1550}));
        put.attenuation_db.push_back(*numbers());
        put.length_m.push_back(*numbers());
        put.taken_ms.push_back(*times());
    }
    auto const body = cord_check_body(put);
    RC_ASSERT(body.has_value());
    auto const got = cord_check_of(*body);
    RC_ASSERT(got.has_value());
    RC_ASSERT(got->id == put.id);
    RC_ASSERT(got->reference == put.reference);
    RC_ASSERT(got->source_sha256 == put.source_sha256);
    RC_ASSERT(got->position == put.position);
    RC_ASSERT(got->far_position == put.far_position);
    RC_ASSERT(got->wavelength_nm == put.wavelength_nm);
    expect_same(got->attenuation_db, put.attenuation_db);
    expect_same(got->length_m, put.length_m);
    RC_ASSERT(got->taken_ms == put.taken_ms);
}

RC_GTEST_PROP(ReferenceEventBody, comes_back, ())
{
    ReferenceEvent put;
    put.event = *names();
    put.reference = *rc::gen::arbitrary<bool>() ? *names() : std::string();
    put.note = *names();
    put.at = {*rc::gen::inRange<std::int64_t>(0, 4'102'444'800'000), *offsets()};
    auto const body = reference_event_body(put);
    RC_ASSERT(body.has_value());
    auto const got = reference_event_of(*body);
    RC_ASSERT(got.has_value());
    RC_ASSERT(got->event == put.event);
    RC_ASSERT(got->reference == put.reference);
    RC_ASSERT(got->note == put.note);
    RC_ASSERT(got->at == put.at);
    RC_ASSERT(got->at.offset_minutes == put.at.offset_minutes);
}

TEST(ReferenceEventBody, an_event_without_a_time_is_damage)
{
    auto const event = reference_event_of(R"({"event":"power-cycle"})");
    ASSERT_FALSE(event.has_value());
    EXPECT_EQ(event.error().code, Errc::damaged);
}

TEST(EntryTimes, the_latest_known_reading_dates_the_entry)
{
    ReferenceEntry reference;
    reference.taken_ms = {1000, no_time, 3000, 2000};
    EXPECT_EQ(reference.taken().ms, 3000);
}

} // namespace bodies_test
} // namespace guidepin::job
