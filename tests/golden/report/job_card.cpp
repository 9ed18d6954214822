// SPDX-License-Identifier: Apache-2.0
// Oracle: Poppler's pdftotext and pdfinfo read back what was written. A guard: the same input gives the same
// bytes.
#include "report_samples.hpp"

#include <cstdio>
#include <filesystem>
#include <fstream>
#include <string>

#include <unistd.h>

#include <gtest/gtest.h>

#include "poppler.hpp"

using namespace guidepin;
using namespace guidepin::report;

namespace job_card_test {

std::shared_ptr<drawing::Typeface> typeface()
{
    static std::shared_ptr<drawing::Typeface> const loaded = drawing::Typeface::load().value();
    return loaded;
}

Result<Written> card_of(JobCard const& card, Setting const& setting, std::string& bytes)
{
    return write_job_card(card, setting, [&](std::string_view part) {
        bytes += part;
        return true;
    });
}

/// Line breaks and runs of spaces become one space: what is said, however it is set.
std::string flat(std::string const& text)
{
    std::string result;
    for (char const c : text) {
        bool const space = c == ' ' || c == '\n' || c == '\f';
        if (!space) {
            result += c;
        } else if (!result.empty() && result.back() != ' ') {
            result += ' ';
        }
    }
    return result;
}

TEST(JobCardPdf, TwoSidesWhateverTheLength)
{
    for (Paper const paper : {Paper::a4, Paper::letter}) {
        for (int const steps : {1, 4, 7, 10}) {
            Setting setting = samples::setting(typeface());
            setting.paper = paper;
            std::string bytes;
            auto const written = card_of(samples::job_card(steps), setting, bytes);
            ASSERT_TRUE(written) << written.error().message;
            EXPECT_LE(written->pages, 2) << steps;
            EXPECT_EQ(written->bytes, bytes.size());
            std::string const info = support::told_by("pdfinfo", bytes, "");
            EXPECT_NE(info.find(fmt::format("Pages:           {}", written->pages)), std::string::npos)
                << info;
            EXPECT_NE(info.find(paper == Paper::letter ? "612 x 792" : "(A4)"), std::string::npos) << info;
        }
    }
}

TEST(JobCardPdf, EveryStepNumberAndCautionCanBeRead)
{
    std::string bytes;
    JobCard const card = samples::job_card(6);
    ASSERT_TRUE(card_of(card, samples::setting(typeface()), bytes));
    std::string const text = flat(support::told_by("pdftotext", bytes, "-"));
    ASSERT_FALSE(card.cautions.empty());
    for (std::string const& caution : card.cautions)
        EXPECT_NE(text.find(caution), std::string::npos) << caution;
    for (CardPhase const& phase : card.phases) {
        EXPECT_NE(text.find(phase.title), std::string::npos);
        for (CardStep const& step : phase.steps)
            EXPECT_NE(text.find(step.action), std::string::npos) << step.action;
        for (CardNumber const& number : phase.numbers) {
            EXPECT_NE(text.find("Accept: " + number.accept), std::string::npos) << number.accept;
            EXPECT_NE(text.find("Refuse: " + number.refuse), std::string::npos) << number.refuse;
        }
    }
    for (char const* said : {"1.1", "3.6", "Launch cord", "stays shut", "opposed keys",
                             "Technician: name, signature", "1 of 2", "2 of 2"}) {
        EXPECT_NE(text.find(said), std::string::npos) << said;
    }
}

TEST(JobCardPdf, SafetyIsSaidFirst)
{
    std::string bytes;
    ASSERT_TRUE(card_of(samples::job_card(6), samples::setting(typeface()), bytes));
    std::string const first = flat(support::told_by("pdftotext -f 1 -l 1", bytes, "-"));
    std::size_t const caution = first.find("Never look into an end");
    ASSERT_NE(caution, std::string::npos);
    EXPECT_LT(caution, first.find("1.1"));
}

TEST(JobCardPdf, SameInputSameBytes)
{
    std::string once;
    std::string again;
    ASSERT_TRUE(card_of(samples::job_card(5), samples::setting(typeface()), once));
    ASSERT_TRUE(card_of(samples::job_card(5), samples::setting(typeface()), again));
    EXPECT_EQ(once, again);
}

TEST(JobCardPdf, TooManyStepsAreRefusedWithTheWayOut)
{
    std::string bytes;
    auto const written = card_of(samples::job_card(60), samples::setting(typeface()), bytes);
    ASSERT_FALSE(written);
    EXPECT_EQ(written.error().code, Errc::refused);
    EXPECT_NE(written.error().message.find("180 steps"), std::string::npos) << written.error().message;
    EXPECT_TRUE(bytes.empty()) << "nothing half-written";
}

TEST(JobCardPdf, CautionsOfTheTradeAreAllThere)
{
    // IEC 60825-2 and common practice: the hazards that a card must name.
    std::string all;
    for (std::string const& caution : standard_cautions()) all += caution + " ";
    for (char const* said : {"cannot be seen", "Never look into an end", "source off before you inspect",
                             "every fibre as live", "released for test", "pinned to pinned", "loose pins",
                             "IEC 60825-2", "local codes", "qualified person who signs"}) {
        EXPECT_NE(all.find(said), std::string::npos) << said;
    }
}

} // namespace job_card_test
