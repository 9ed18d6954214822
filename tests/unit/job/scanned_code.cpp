// SPDX-License-Identifier: Apache-2.0
// What a scanned text leads to: labels of many habits, our own documents, and texts that lead nowhere.
#include "job/plan/scanned_code.hpp"
#include "report/qr.hpp"

#include <gtest/gtest.h>

namespace guidepin::job {
namespace scanned_code_test {

JobState site()
{
    JobState state;
    for (char const* id : {"N-07", "N-08", "Hall 3/07", "n-08b", "X=1", "ab", "AB"}) {
        state.link_index.emplace(id, state.links.size());
        state.links.push_back({});
        state.links.back().id = id;
    }
    TestEntry test;
    test.link = "N-08";
    test.hash = std::string(64, 'c');
    state.tests.push_back(test);
    ChosenSetup setup;
    setup.hash = std::string(64, 'd');
    state.setups.push_back(setup);
    return state;
}

std::string leads_to(std::string_view text)
{
    auto const found = meaning_of_code(site(), text);
    if (!found) return "nowhere";
    return found->link.empty() ? "set-up " + found->setup : found->link;
}

TEST(ScannedCode, a_label_that_is_the_name_of_a_link)
{
    EXPECT_EQ(leads_to("N-07"), "N-07");
    EXPECT_EQ(leads_to("  N-07\r\n"), "N-07");
    EXPECT_EQ(leads_to("n-07"), "N-07");
    EXPECT_EQ(leads_to("Hall 3/07"), "Hall 3/07");
    EXPECT_EQ(leads_to("X=1"), "X=1");
    EXPECT_EQ(leads_to("AB"), "AB") << "the exact name goes before one in other letters";
    EXPECT_EQ(leads_to("Ab"), "nowhere") << "two links are called so but for the case";
}

TEST(ScannedCode, a_label_that_holds_the_name_among_other_words)
{
    EXPECT_EQ(leads_to("https://site.example/link?id=N-07"), "N-07");
    EXPECT_EQ(leads_to("https://site.example/link?id=Hall%203%2F07&from=label"), "Hall 3/07");
    EXPECT_EQ(leads_to("https://site.example/link?id=Hall+3%2f07"), "Hall 3/07");
    EXPECT_EQ(leads_to("TRUNK;N-08;12 fibres;OM4"), "N-08");
    EXPECT_EQ(leads_to("trunk|Hall 3/07|OM4"), "Hall 3/07");
    EXPECT_EQ(leads_to("Trunk N-08 of 12 fibres"), "N-08");
    EXPECT_EQ(leads_to("N-07;N-08"), "nowhere") << "two links: a person has to say which";
    EXPECT_EQ(leads_to("N-0"), "nowhere");
    EXPECT_EQ(leads_to("N-071"), "nowhere");
    EXPECT_EQ(leads_to(""), "nowhere");
    EXPECT_EQ(leads_to("%"), "nowhere");
    EXPECT_EQ(leads_to("id=%4"), "nowhere");
    EXPECT_EQ(leads_to(std::string(100'000, ';') + "N-07"), "nowhere") << "longer than any code";
}

TEST(ScannedCode, our_own_documents)
{
    EXPECT_EQ(leads_to(report::qr_text(std::string(64, 'c'))), "N-08") << "a certificate";
    EXPECT_EQ(leads_to(report::qr_text(std::string(64, 'd'))), "set-up " + std::string(64, 'd'))
        << "a job card";
    EXPECT_EQ(leads_to(report::qr_text(std::string(64, 'e'))), "nowhere") << "of another job";
    EXPECT_EQ(leads_to("GUIDEPIN:SHA256:"), "nowhere");
}

} // namespace scanned_code_test
} // namespace guidepin::job
