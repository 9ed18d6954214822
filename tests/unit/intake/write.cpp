// SPDX-License-Identifier: Apache-2.0
#include "intake/write.hpp"

#include "base/text.hpp"
#include "intake/readings_columns.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

namespace guidepin::intake {
namespace write_test {

/// A text that a name of ours can be: trimmed, no control characters but tabs and line breaks, valid UTF-8.
rc::Gen<std::string> names()
{
    return rc::gen::suchThat(
        rc::gen::map(rc::gen::container<std::string>(rc::gen::elementOf(std::string("ab1=+-@'\",;\t\r\n "))),
                     [](std::string const& text) { return std::string(trimmed(text)); }),
        [](std::string const& text) { return !text.empty() && text.size() <= 400; });
}

RC_GTEST_PROP(Write, AnyNameComesBackThroughTheReaders, ())
{
    std::vector<std::string> const texts = *rc::gen::container<std::vector<std::string>>(names());
    RC_PRE(!texts.empty());
    verdict::ReadingColumns rows;
    ReferencePowers powers;
    for (std::size_t i = 0; i < texts.size(); ++i) {
        rows.link.push_back(rows.links.index_of(texts[i]));
        rows.launch_end.push_back(verdict::LaunchEnd::a);
        rows.position.push_back(1);
        rows.far_position.push_back(1);
        rows.wavelength_nm.push_back(850);
        rows.value.push_back(-0.31);
        rows.length_m.push_back(5);
        rows.taken_ms.push_back(static_cast<std::int64_t>(i) * 1000);
        rows.offset_minutes.push_back(0);
        rows.reference.push_back(rows.references.index_of(texts[i]));
        rows.operator_name.push_back(rows.operators.index_of(texts[i]));
        rows.line.push_back(0);
        powers.reference.push_back(powers.references.index_of(texts[i]));
        powers.position.push_back(1);
        powers.wavelength_nm.push_back(850);
        powers.power_dbm.push_back(-20);
        powers.taken_ms.push_back(0);
        powers.offset_minutes.push_back(0);
    }
    std::string const csv = readings_csv(rows);
    for (std::size_t const piece : {std::size_t{40}, std::size_t{1} << 20}) {
        auto const read = read_readings_in_pieces(csv, {}, piece);
        RC_ASSERT(bool(read));
        RC_ASSERT(read->content.size() == texts.size());
        for (std::size_t i = 0; i < texts.size(); ++i) {
            RC_ASSERT(read->content.links.text(read->content.link[i]) == texts[i]);
            RC_ASSERT(read->content.operators.text(read->content.operator_name[i]) == texts[i]);
            RC_ASSERT(read->content.value[i] == -0.31);
        }
    }
    auto const reference = read_reference(reference_csv(powers), {});
    RC_ASSERT(bool(reference));
    for (std::size_t i = 0; i < texts.size(); ++i)
        RC_ASSERT(reference->content.references.text(reference->content.reference[i]) == texts[i]);
}

TEST(Write, NumbersAreNotGuarded)
{
    verdict::ReadingColumns rows;
    rows.link = {rows.links.index_of("L")};
    rows.launch_end = {verdict::LaunchEnd::b};
    rows.position = {3};
    rows.far_position = {verdict::far_dark};
    rows.wavelength_nm = {1310};
    rows.value = {-0.05};
    rows.length_m = {12.25};
    rows.taken_ms = {0};
    rows.offset_minutes = {-60};
    rows.reference = {verdict::Dictionary::missing};
    rows.operator_name = {verdict::Dictionary::missing};
    rows.line = {2};
    EXPECT_EQ(readings_csv(rows), "link,launch_end,position,far_position,wavelength_nm,attenuation_db,length_"
                                  "m,taken_at,reference,operator\r\n"
                                  "L,b,3,0,1310,-0.05,12.25,1969-12-31T23:00:00-01:00,,\r\n");
}

} // namespace write_test
} // namespace guidepin::intake
