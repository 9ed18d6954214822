// SPDX-License-Identifier: Apache-2.0
// A guard, not an oracle: the words of one job card as it was last looked at and approved, read back by
// Poppler's pdftotext. To approve a change, look at the card, run this program with GUIDEPIN_APPROVE=1, and
// commit the difference. Beside it a limit that is the card's promise: two sides, for every set-up there is.
#include "job/plan/set_up_card.hpp"
#include "job/plan/set_up_sheet.hpp"

#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iterator>

#include <unistd.h>

#include <fmt/format.h>
#include <gtest/gtest.h>

#include "poppler.hpp"

namespace guidepin::job {
namespace setup_card_test {

SetupRules rules()
{
    SetupRules rules;
    rules.tables = &facts::built_in_tables();
    rules.rules = *rules.tables->rule_set("tia-568.3-e");
    return rules;
}

SetupSheet sheet_for(char const* source, char const* meter, std::string const& cabling, char const* method)
{
    SetupWords words;
    words.source = source;
    words.meter = meter;
    words.cabling = cabling;
    words.methods = {method};
    auto const answer = set_up(words, nullptr, rules());
    EXPECT_TRUE(answer && answer->solved);
    return sheet_of(*answer->solved);
}

std::string card_bytes(SetupSheet const& sheet, report::Paper paper)
{
    CardOptions options;
    options.paper = paper;
    options.made = *parse_instant("2026-03-02T07:30:00+01:00");
    auto const pdf = job_card_pdf(sheet, {"Harbour hall 2", "", "", ""}, options);
    EXPECT_TRUE(pdf) << pdf.error().message;
    return pdf.value_or("");
}

TEST(SetupCard, words_as_approved)
{
    SetupSheet sheet = sheet_for("pinned", "pinned", "unpinned,unpinned", "one-cord");
    sheet.hash = std::string(64, 'a');
    std::string const text = support::told_by("pdftotext -layout", card_bytes(sheet, report::Paper::a4), "-");
    std::string const path = std::string(GUIDEPIN_SOURCE_DIR) + "/tests/golden/job/expected/setup_card.txt";
    if (std::getenv("GUIDEPIN_APPROVE")) std::ofstream(path, std::ios::binary) << text;
    std::ifstream file(path, std::ios::binary);
    ASSERT_TRUE(file) << path << " is missing: run with GUIDEPIN_APPROVE=1 and look at it.";
    EXPECT_EQ(text, std::string((std::istreambuf_iterator<char>(file)), std::istreambuf_iterator<char>()));
}

TEST(SetupCard, two_sides_for_every_pin_combination_and_method)
{
    for (char const* const method : {"one-cord", "changer", "two-cord", "three-cord"}) {
        for (int bits = 0; bits < 16; ++bits) {
            auto const pins = [bits](int bit) { return (bits >> bit & 1) != 0 ? "pinned" : "unpinned"; };
            SetupSheet const sheet =
                sheet_for(pins(0), pins(1), fmt::format("{},{}", pins(2), pins(3)), method);
            // Letter is the shorter paper. A card that needs a third side is refused.
            std::string const pdf = card_bytes(sheet, report::Paper::letter);
            EXPECT_EQ(pdf.substr(0, 5), "%PDF-") << method << " " << bits;
        }
    }
}

} // namespace setup_card_test
} // namespace guidepin::job
