// SPDX-License-Identifier: Apache-2.0
// Oracles: the vocabulary as the issue lists it, Shannon's entropy for what an action tells, and data that
// are wrong on purpose.
#include "cause/finding.hpp"
#include "cause/priors.hpp"

#include <set>

namespace guidepin::cause {
namespace finding_test {

TEST(Causes, HaveTheIdsThatAreStable)
{
    std::set<std::string> const wanted{"dirty-or-damaged-end-face",
                                       "macrobend",
                                       "misaligned-ferrule",
                                       "unpinned-joint",
                                       "face-mismatch",
                                       "broken-fibre",
                                       "extra-connection",
                                       "core-size-mismatch",
                                       "reference-fault",
                                       "reference-drift",
                                       "test-cord-position",
                                       "wrong-trunk-type",
                                       "wrong-adapter",
                                       "wrong-test-cord",
                                       "crossed-fibres",
                                       "shifted-row",
                                       "swapped-blocks",
                                       "swapped-rows",
                                       "length-mismatch",
                                       "mislabelled-link",
                                       "copied-measurement",
                                       "unexplained",
                                       "contradicting-records"};
    std::set<std::string> ids;
    for (std::size_t i = 0; i < cause_count; ++i) {
        auto const cause = static_cast<Cause>(i);
        ids.insert(id_of(cause));
        EXPECT_NE(action_for(cause, "HERE").find("HERE"), std::string::npos) << id_of(cause);
    }
    EXPECT_EQ(ids, wanted);
    EXPECT_EQ(name_of(Cause::dirty_end_face), "dirty or damaged end face");
}

TEST(Causes, WhatLooksAtEndFacesSaysToSwitchTheSourceOff)
{
    for (Cause const cause :
         {Cause::dirty_end_face, Cause::misaligned_ferrule, Cause::unpinned_joint, Cause::face_mismatch,
          Cause::broken_fibre, Cause::test_cord_position, Cause::shifted_row, Cause::unexplained}) {
        std::string const text = action_for(cause, "X");
        EXPECT_TRUE(text.find("source off") != std::string::npos) << text;
    }
}

TEST(CauseToCheckFirst, IsTheLikeliestCauseWhenItIsSure)
{
    Finding finding;
    finding.cause = Cause::dirty_end_face;
    finding.probability = 0.98;
    finding.alternatives = {{Cause::misaligned_ferrule, 0.01}};
    EXPECT_EQ(cause_to_check_first(finding), Cause::dirty_end_face);
}

TEST(CauseToCheckFirst, IsTheCheapLookWhenTwoCausesCompete)
{
    // 55 % and 40 %: the entropies are 0.993 and 0.971 bit; reading two legends takes two minutes, tracing a
    // link ten.
    Finding finding;
    finding.cause = Cause::mislabelled_link;
    finding.probability = 0.55;
    finding.alternatives = {{Cause::wrong_test_cord, 0.40}};
    EXPECT_EQ(cause_to_check_first(finding), Cause::wrong_test_cord);
}

TEST(Priors, AreReadFromTheTables)
{
    auto const priors = priors_of(facts::built_in_tables());
    ASSERT_TRUE(priors);
    EXPECT_GT(priors->rate[static_cast<std::size_t>(Cause::dirty_end_face)],
              priors->rate[static_cast<std::size_t>(Cause::macrobend)]);
    EXPECT_LE(priors->mirrored_trunk + priors->mirrored_adapter + priors->mirrored_cord, 1);
    for (MapMeaning const& meaning : priors->map_meaning) {
        EXPECT_GT(meaning.probability, 0);
        EXPECT_LE(meaning.probability + meaning.other_probability, 1) << id_of(meaning.cause);
        EXPECT_NE(meaning.cause, meaning.other);
    }
    EXPECT_DOUBLE_EQ(priors->reference_too_low + priors->reference_too_high, 1);
    EXPECT_DOUBLE_EQ(priors->extreme_broken + priors->extreme_dirty, 1);
    EXPECT_LT(priors->mirrored_cords.few, priors->mirrored_cords.many);
    EXPECT_LT(priors->mirrored_panel.few, priors->mirrored_panel.many);
}

TEST(Priors, OfAMapAreThoseOfItsOwnSignature)
{
    auto const before = priors_of(facts::built_in_tables());
    facts::Tables tables = facts::built_in_tables();
    for (facts::Fact& fact : tables.facts) {
        if (fact.id == "causes.wiring.shifted-row.shifted-row") fact.value = 0.5;
    }
    auto const after = priors_of(tables);
    ASSERT_TRUE(before && after);
    for (std::size_t kind = 0; kind < plant::signature_kinds; ++kind) {
        bool const changed = kind == static_cast<std::size_t>(plant::SignatureKind::shifted_row);
        EXPECT_EQ(after->map_meaning[kind].probability,
                  changed ? 0.5 : before->map_meaning[kind].probability);
    }
}

TEST(Priors, ThatAreMissingOrOutOfRangeAreNamed)
{
    facts::Tables tables = facts::built_in_tables();
    for (facts::Fact& fact : tables.facts) {
        if (fact.id == "causes.rate.macrobend") fact.value = 1.5;
    }
    auto const wrong = priors_of(tables);
    ASSERT_FALSE(wrong);
    EXPECT_NE(wrong.error().message.find("causes.rate.macrobend"), std::string::npos);
    EXPECT_EQ(priors_of(facts::Tables{}).error().code, Errc::not_found);
}

} // namespace finding_test
} // namespace guidepin::cause
