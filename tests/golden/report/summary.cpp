// SPDX-License-Identifier: Apache-2.0
// Oracle: Poppler's pdftotext and pdfinfo read back what was written. A guard: the same input gives the same
// bytes.
#include "report_samples.hpp"

#include "base/text.hpp"

#include <cstdio>
#include <filesystem>
#include <fstream>
#include <string>

#include <unistd.h>

#include <gtest/gtest.h>

#include "poppler.hpp"

using namespace guidepin;
using namespace guidepin::report;

namespace summary_test {

std::string summary_of(Summary const& summary, Paper paper, Written* told = nullptr)
{
    static std::shared_ptr<drawing::Typeface> const typeface = drawing::Typeface::load().value();
    Setting setting = samples::setting(typeface);
    setting.paper = paper;
    std::string bytes;
    Result<Written> const written = write_summary(summary, setting, [&](std::string_view part) {
        bytes += part;
        return true;
    });
    EXPECT_TRUE(written) << written.error().message;
    if (written && told) *told = *written;
    return bytes;
}

TEST(Summary, SaysWhatWasPromisedFoundAndLeft)
{
    std::string const text =
        support::told_by("pdftotext -layout", summary_of(samples::summary(), Paper::a4), "-");
    for (char const* const wanted :
         {"146 of 150 links conform; 1 fails, 2 are held, 1 is open", "What was promised", "Decision rule",
          "Results by zone", "Failing links: 1", "Held links: 2", "Open links: 1", "F2-014", "\u22120.22",
          "Reference drift", "must settle", "SRC-0031", "TRC-0412", "from memory †",
          "Rests on unconfirmed values", "Acceptance is the decision of the qualified person who signs"}) {
        EXPECT_NE(text.find(wanted), std::string::npos) << "not found: " << wanted << "\nin:\n" << text;
    }
    std::string const hash = samples::hash_of(3);
    for (std::size_t i = 0; i < 64; i += 16) EXPECT_NE(text.find(hash.substr(i, 16)), std::string::npos);
}

TEST(Summary, CountsOfTheZonesAddUp)
{
    Summary const summary = samples::summary();
    int scheduled = 0, pass = 0;
    for (ZoneCount const& zone : summary.zones) {
        scheduled += zone.scheduled;
        pass += zone.pass;
    }
    bool found = false;
    std::string const told = support::told_by("pdftotext -layout", summary_of(summary, Paper::letter), "-");
    for (std::string_view const line : split(told, '\n')) {
        std::string_view const row = trimmed(line);
        if (!row.starts_with("All ")) continue;
        std::size_t const at = row.find(fmt::format("{}", scheduled));
        found = at != std::string_view::npos &&
                row.find(fmt::format("{}", pass), at + 1) != std::string_view::npos;
    }
    EXPECT_TRUE(found) << scheduled << " links, " << pass << " pass";
}

TEST(Summary, ContentsLeadToTheRightPages)
{
    std::string const pdf = summary_of(samples::summary(), Paper::a4);
    for (char const* const chapter : {"Results by zone", "References", "Sources"}) {
        // The number at the end of the line of the contents, and the page on which the chapter's title
        // stands.
        std::string const contents = support::told_by("pdftotext -layout -f 1 -l 1", pdf, "-");
        long long page = 0;
        for (std::string_view const line : split(contents, '\n')) {
            if (!trimmed(line).starts_with(chapter)) continue;
            std::string_view const row = trimmed(line);
            page = parse_integer(row.substr(row.find_last_of(' ') + 1)).value_or(0);
        }
        ASSERT_GT(page, 0) << chapter << "\n" << contents;
        std::string const there =
            support::told_by(fmt::format("pdftotext -layout -f {0} -l {0}", page), pdf, "-");
        bool found = false;
        for (std::string_view const line : split(there, '\n')) found = found || trimmed(line) == chapter;
        EXPECT_TRUE(found) << chapter << " is not on page " << page << "\n" << there;
    }
}

TEST(Summary, SameInputSameBytesOnBothPapers)
{
    for (Paper const paper : {Paper::a4, Paper::letter}) {
        Written told;
        std::string const first = summary_of(samples::summary(), paper, &told);
        sleep(1); // the machine's clock moves on
        EXPECT_EQ(first, summary_of(samples::summary(), paper));
        std::string const info = support::told_by("pdfinfo", first, "");
        EXPECT_NE(info.find(paper == Paper::a4 ? "(A4)" : "(letter)"), std::string::npos) << info;
        EXPECT_NE(info.find(fmt::format("Pages:           {}\n", told.pages)), std::string::npos) << info;
    }
}

TEST(Summary, AnEmptyJobIsStillADocument)
{
    Summary summary;
    summary.job = samples::job_head();
    summary.verdict_line = "nothing was tested";
    std::string const text = support::told_by("pdftotext -layout", summary_of(summary, Paper::a4), "-");
    EXPECT_NE(text.find("nothing was tested"), std::string::npos) << text;
    EXPECT_EQ(text.find("Failing links"), std::string::npos) << text;
}

} // namespace summary_test
