// SPDX-License-Identifier: Apache-2.0
// Oracle: the worked table of test-cord types between aligned-key ports, 12 positions, from the numbering of
// TIA-568.3 (type A keeps, B reverses, C swaps pairs; an aligned-key joint reverses). Maps are discrete: no
// tolerance.
#include "no_plan_text.hpp"
#include "plant/presets.hpp"
#include "setup/implied.hpp"

#include <gtest/gtest.h>

namespace guidepin::setup {
namespace shown_map_test {

using plant::Pins;

plant::Family const mpo12{plant::Family::Key::mpo12, 1, 12};

struct Row
{
    char const *launch, *tail, *a, *b, *c;
};

TEST(ShownMap, table_of_test_cord_types)
{
    for (Row const& row : {Row{"B", "B", "A", "B", "C"}, Row{"B", "A", "B", "A", "RW"},
                           Row{"A", "B", "B", "A", "RW"}, Row{"A", "A", "A", "B", "C"}}) {
        int column = 0;
        for (char const* cabling : {"A", "B", "C"}) {
            Question question;
            question.source = port_of(mpo12, Pins::pinned);
            question.meter = port_of(mpo12, Pins::pinned);
            question.cabling.first = {"a", plug_of(mpo12, Pins::pinned), plant::EndFitting::opposed_adapter};
            question.cabling.second = {"b", plug_of(mpo12, Pins::unpinned),
                                       plant::EndFitting::opposed_adapter};
            question.cabling.expected = *plant::cable_map(cabling, mpo12);
            Cord tc1 = cord_of("TC1", mpo12, Pins::unpinned, Pins::unpinned);
            Cord tc2 = cord_of("TC2", mpo12, Pins::pinned, Pins::unpinned);
            tc1.type = row.launch;
            tc2.type = row.tail;
            question.kit.cords = {tc1, tc2};
            question.kit.adapters = {{plant::KeyRelation::opposed, mpo12.key, 1}};
            auto const answer = solve(question);
            ASSERT_TRUE(answer);
            ASSERT_TRUE(answer->plan) << text_of(answer->none);
            auto const shown = shown_map(question, *answer->plan);
            ASSERT_TRUE(shown) << shown.error().message;
            char const* const expected = column == 0 ? row.a : column == 1 ? row.b : row.c;
            EXPECT_EQ(shown->shown_class, expected) << row.launch << row.tail << " " << cabling;
            EXPECT_EQ(shown->cabling_class, cabling);
            EXPECT_EQ(shown->same_class, std::string_view{expected} == cabling);
            EXPECT_EQ(shown->shown == *question.cabling.expected, shown->same_class);
            // Two B cords: nothing to correct. Two A cords: the class is right, port 1 is plug 12.
            bool const both_b = std::string_view{row.launch} == "B" && std::string_view{row.tail} == "B";
            EXPECT_EQ(shown->same_numbers, both_b);
            ++column;
        }
    }
}

} // namespace shown_map_test
} // namespace guidepin::setup
