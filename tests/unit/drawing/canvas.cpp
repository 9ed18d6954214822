// SPDX-License-Identifier: Apache-2.0
// Oracle: Poppler reads back what was written (pdftotext, pdffonts).
#include "drawing/canvas.hpp"

#include "drawing_samples.hpp"

#include <cstdio>
#include <filesystem>
#include <fstream>

#include <unistd.h>

#include <gtest/gtest.h>

#include "poppler.hpp"

using namespace guidepin;
using namespace guidepin::drawing;

namespace canvas_test {

std::shared_ptr<Typeface> typeface()
{
    static auto const loaded = Typeface::load().value();
    return loaded;
}

std::string pdf(std::vector<Scene> const& pages)
{
    std::string bytes;
    PdfDocument document(typeface(),
                         {"Title", "Author", "Subject", *parse_instant("2026-03-04T17:30:00+01:00")},
                         [&](std::string_view part) {
                             bytes += part;
                             return true;
                         });
    document.add_outline({"First", "here", 0});
    for (Scene const& page : pages)
        EXPECT_TRUE(document.page(page, {{{1, 1, 20, 20}, "here"}}, {{{0, 0}, "here"}}));
    EXPECT_TRUE(document.finish());
    return bytes;
}

std::string told(std::string const& program, std::string const& bytes, std::string const& tail)
{
    return support::told_by(program, bytes, tail + " 2>&1");
}

TEST(Canvas, SameInputSameBytes)
{
    std::vector<Scene> const pages{row_drawing(samples::row_of_twelve(), RowSize::large),
                                   light_path_drawing(samples::test_phase(), 900)};
    EXPECT_EQ(pdf(pages), pdf(pages));
}

TEST(Canvas, TextIsTextAndFontsAreEmbeddedSubsets)
{
    std::string const bytes =
        pdf({light_path_drawing(samples::test_phase(), 900), control_drawing(samples::control(), 500)});
    std::string const text = told("pdftotext -layout", bytes, "-");
    for (char const* said : {"Launch cord", "TRC-0412", "opposed keys", "change near F2-027", "−0.05"}) {
        std::string const wanted = std::string(said) == "−0.05" ? "-0.05" : said; // our default number text
        EXPECT_NE(text.find(wanted), std::string::npos) << said << " in\n" << text;
    }
    std::string const fonts = told("pdffonts", bytes, "");
    EXPECT_NE(fonts.find("+B612-Regular"), std::string::npos) << fonts;
    EXPECT_NE(fonts.find("+B612Mono-Regular"), std::string::npos) << fonts;
    EXPECT_EQ(fonts.find(" no "), std::string::npos) << "every font embedded, subset, with Unicode:\n"
                                                     << fonts;
}

TEST(Canvas, LettersOutsideTheFontAreDrawnAllTheSame)
{
    Scene scene;
    scene.width = scene.height = 200;
    scene.add(Text{{10, 50}, "リンク 7", 12, Face::regular, Anchor::start, paint(Token::ink), false});
    scene.add(Text{{10, 90}, "after it", 12, Face::regular, Anchor::start, paint(Token::ink), false});
    EXPECT_NE(told("pdftotext", pdf({scene}), "-").find("after it"), std::string::npos);
}

TEST(Canvas, AStrictReaderFindsEveryObject)
{
    // Each "n 0 R" of the file is an object of the file (cairo 1.16 leaves some out when links have no
    // structure).
    std::string const bytes = pdf({row_drawing(samples::row_of_twelve(), RowSize::normal),
                                   row_drawing(samples::row_of_twelve(), RowSize::normal)});
    std::size_t const table = bytes.rfind("\nxref");
    ASSERT_NE(table, std::string::npos);
    std::size_t at = bytes.find("0000000000 65535 f", table);
    int entry = 0;
    while ((at = bytes.find(" 00000 n", at + 8)) != std::string::npos) {
        ++entry;
        auto const offset = static_cast<std::size_t>(std::stoul(bytes.substr(at - 10, 10)));
        EXPECT_EQ(bytes.compare(offset, std::to_string(entry).size() + 6, fmt::format("{} 0 obj", entry)), 0)
            << "object " << entry;
    }
    EXPECT_GT(entry, 10);
}

TEST(Canvas, ARefusingSinkIsAnError)
{
    PdfDocument document(typeface(), {"T", "A", "S", {}}, [](std::string_view) { return false; });
    Outcome outcome = document.page(row_drawing(samples::row_of_twelve(), RowSize::large));
    if (outcome) outcome = document.finish();
    ASSERT_FALSE(outcome);
    EXPECT_EQ(outcome.error().code, Errc::environment);
}

TEST(Canvas, AMissingFontSaysWhatToInstall)
{
    auto const none = Typeface::load({"/nowhere/b612"});
    ASSERT_FALSE(none);
    EXPECT_EQ(none.error().code, Errc::environment);
    EXPECT_NE(none.error().message.find("fonts-b612"), std::string::npos);
    EXPECT_NE(none.error().message.find("/nowhere/b612"), std::string::npos);
}

} // namespace canvas_test
