// SPDX-License-Identifier: Apache-2.0
// Oracle: the worked table of test-cord types against what the instrument reads, both ports aligned-key,
// multiplied out by hand from the twelve-position tables (TIA-568.3); test set of IEC 61280-4-5:2020. Whole
// numbers: no tolerance.
#include "plant/test_cords.hpp"
#include "plant/presets.hpp"

#include <gtest/gtest.h>

namespace guidepin::plant {
namespace test_cords_test {

Family const mpo12{Family::Key::mpo12, 1, 12};
Family const mpo24{Family::Key::mpo12, 2, 12};

TestCord cord(char const* type, std::optional<KeyRelation> adapter = std::nullopt)
{
    TestCord made;
    made.type = type;
    made.adapter = adapter;
    return made;
}

struct Row
{
    char const* first;
    char const* second;
    char const* reads[3]; ///< for cabling A, B, C
};

TEST(TestCords, WhatIsReadForEachPairOfCords)
{
    for (Row const& row : {Row{"B", "B", {"A", "B", "C"}},
                           {"B", "A", {"B", "A", "RW"}},
                           {"A", "B", {"B", "A", "RW"}},
                           {"A", "A", {"A", "B", "C"}}}) {
        PositionMap const launch = launch_map(cord(row.first), mpo12).value();
        PositionMap const receive = receive_map(cord(row.second), mpo12).value();
        char const* const classes[] = {"A", "B", "C"};
        for (std::size_t i = 0; i < 3; ++i) {
            PositionMap const cabling = cable_map(classes[i], mpo12).value();
            PositionMap const shown = shown_by_instrument(cabling, launch, receive);
            EXPECT_EQ(class_name(shown, mpo12), row.reads[i]) << row.first << row.second << classes[i];
            EXPECT_EQ(launch.inverse().then(shown).then(receive.inverse()), cabling);
        }
    }
}

TEST(TestCords, TypeBOnBothSidesNeedsNoCorrectionTypeAMirrors)
{
    PositionMap const b = launch_map(cord("B"), mpo12).value();
    PositionMap const a = launch_map(cord("A"), mpo12).value();
    for (int p = 1; p <= 12; ++p) {
        EXPECT_EQ(b.at(p), p);
        EXPECT_EQ(a.at(p), 13 - p); // port 1 = cabling 12
    }
}

TEST(TestCords, AnAdapterOfTheTestSetCountsAtABarePlug)
{
    // Opposed keys add nothing for one row, aligned keys add the reversal; for two rows both add a map.
    PositionMap const plain = launch_map(cord("B"), mpo12).value();
    EXPECT_EQ(launch_map(cord("B", KeyRelation::opposed), mpo12).value(), plain);
    PositionMap const aligned = launch_map(cord("B", KeyRelation::aligned), mpo12).value();
    for (int p = 1; p <= 12; ++p) EXPECT_EQ(aligned.at(p), 13 - p);

    PositionMap const two = launch_map(cord("I-B"), mpo24).value();
    EXPECT_EQ(launch_map(cord("I-B", KeyRelation::opposed), mpo24).value(),
              two.then(adapter_map(KeyRelation::opposed, mpo24)));
    EXPECT_FALSE(launch_map(cord("I-B", KeyRelation::opposed), mpo24).value() == two);
}

TEST(TestCords, OneAAndOneBReadBAsA)
{
    // Vector 13 of the contract: a false pass or false fail on every link of a job.
    PositionMap const shown =
        shown_by_instrument(cable_map("B", mpo12).value(), launch_map(cord("A"), mpo12).value(),
                            receive_map(cord("B"), mpo12).value());
    EXPECT_EQ(shown.at(1), 1);
    EXPECT_EQ(class_name(shown, mpo12), "A");
}

} // namespace test_cords_test
} // namespace guidepin::plant
