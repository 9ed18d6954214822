// SPDX-License-Identifier: Apache-2.0
// Codes in pictures. Oracle: libqrencode, an encoder that shares nothing with the reader; what it was given
// has to come back. Pictures that hold no code, or do not hold together, are random bytes with a printed
// seed.
#include "web/code_reader.hpp"

#include <gtest/gtest.h>
#include <qrencode.h>
#include <rapidcheck/gtest.h>

#include <algorithm>
#include <memory>
#include <random>

namespace guidepin::web {
namespace code_reader_test {

struct Picture
{
    std::int64_t width = 0, height = 0;
    std::string grey;
};

struct Look
{
    int unit = 4; ///< pixels a module
    int left = 20, top = 20, right = 20, bottom = 20;
    int quarter_turns = 0;
    unsigned char ink = 20, paper = 235;
    int noise = 0; ///< largest change of a pixel
    unsigned seed = 1;
};

Picture picture_of(std::string const& text, Look const& look)
{
    std::unique_ptr<QRcode, void (*)(QRcode*)> const code(
        QRcode_encodeString(text.c_str(), 0, QR_ECLEVEL_M, QR_MODE_8, 1), QRcode_free);
    EXPECT_TRUE(code);
    int const modules = code->width;
    Picture picture;
    picture.width = look.left + modules * look.unit + look.right;
    picture.height = look.top + modules * look.unit + look.bottom;
    picture.grey.assign(static_cast<std::size_t>(picture.width * picture.height),
                        static_cast<char>(look.paper));
    for (int y = 0; y < modules * look.unit; ++y) {
        for (int x = 0; x < modules * look.unit; ++x) {
            int row = y / look.unit, column = x / look.unit;
            for (int turn = 0; turn < look.quarter_turns; ++turn) {
                int const before = row;
                row = column;
                column = modules - 1 - before;
            }
            if ((code->data[row * modules + column] & 1) != 0)
                picture.grey[static_cast<std::size_t>((y + look.top) * picture.width + x + look.left)] =
                    static_cast<char>(look.ink);
        }
    }
    if (look.noise > 0) {
        std::mt19937 random{look.seed};
        std::uniform_int_distribution<int> change{-look.noise, look.noise};
        for (char& pixel : picture.grey)
            pixel = static_cast<char>(
                std::clamp(static_cast<int>(static_cast<unsigned char>(pixel)) + change(random), 0, 255));
    }
    return picture;
}

std::string said(Picture const& picture)
{
    auto const text = read_code(picture.width, picture.height, picture.grey);
    if (!text) return "refused: " + text.error().message;
    return *text ? **text : "nothing";
}

TEST(CodeReader, reads_what_another_program_wrote)
{
    for (std::string const text :
         {"N-07", "HDA-3/07/A12", "https://site.example/link?id=N-07",
          "GUIDEPIN:SHA256:9F86D081884C7D659A2FEAA0C55AD015A3BF4F1B2B0B822CD15D6C15B0F00A08"}) {
        for (int turns = 0; turns < 4; ++turns) {
            for (int const unit : {3, 4, 7}) {
                Look look;
                look.unit = unit;
                look.quarter_turns = turns;
                EXPECT_EQ(said(picture_of(text, look)), text) << unit << " pixels, " << turns << " turns";
            }
        }
    }
}

TEST(CodeReader, reads_a_label_in_poor_light_off_centre)
{
    for (unsigned seed = 1; seed <= 20; ++seed) {
        Look look;
        look.left = 300;
        look.bottom = 250;
        look.ink = 60;
        look.paper = 150;
        look.noise = 25;
        look.seed = seed;
        EXPECT_EQ(said(picture_of("E-06", look)), "E-06") << "seed " << seed;
    }
}

TEST(CodeReader, refuses_pictures_that_do_not_hold_together)
{
    Picture const good = picture_of("N-07", {});
    for (auto const& [width, height, bytes] :
         std::initializer_list<std::tuple<std::int64_t, std::int64_t, std::size_t>>{
             {0, 0, 0},
             {0, 10, 0},
             {-1, -1, 1},
             {10, 10, 99},
             {10, 10, 101},
             {widest_picture + 1, 1, static_cast<std::size_t>(widest_picture) + 1},
             {1, widest_picture + 1, static_cast<std::size_t>(widest_picture) + 1},
             {std::int64_t{1} << 32, std::int64_t{1} << 32, 0}, // the product is 0 in 64 bits
             {good.height + 1, good.width, good.grey.size()}}) {
        std::string const grey(bytes, 'x');
        auto const text = read_code(width, height, grey);
        ASSERT_FALSE(text) << width << " by " << height << " of " << bytes;
        EXPECT_EQ(text.error().code, Errc::invalid_input);
    }
}

TEST(CodeReader, finds_nothing_where_nothing_is)
{
    for (std::int64_t const side : {1, 2, 20, 21, 22, 640}) {
        for (char const shade : {'\0', '\x7f', '\xff'}) {
            std::string const grey(static_cast<std::size_t>(side * side), shade);
            auto const text = read_code(side, side, grey);
            ASSERT_TRUE(text);
            EXPECT_FALSE(*text);
        }
    }
}

RC_GTEST_PROP(CodeReaderOfAnything, never_does_worse_than_finding_nothing, ())
{
    auto const width = *rc::gen::inRange<std::int64_t>(1, 120);
    auto const height = *rc::gen::inRange<std::int64_t>(1, 120);
    auto const seed = *rc::gen::arbitrary<std::uint32_t>();
    int const shades = *rc::gen::element(2, 3, 256);
    std::mt19937 random{seed};
    std::string grey(static_cast<std::size_t>(width * height), '\0');
    for (char& pixel : grey)
        pixel = static_cast<char>(static_cast<int>(random() % static_cast<unsigned>(shades)) * 255 /
                                  (shades - 1));
    auto const text = read_code(width, height, grey);
    RC_ASSERT(text.has_value());
    if (*text) RC_ASSERT(text->value().size() <= 4296U); // letters of the largest code, ISO/IEC 18004
}

/// A code of which a part was covered or torn: it is read as it was, or not at all.
RC_GTEST_PROP(CodeReaderOfAnything, reads_a_damaged_code_right_or_not_at_all, ())
{
    Picture picture = picture_of("HDA-3/07/A12", {});
    auto const left = *rc::gen::inRange<std::int64_t>(0, picture.width);
    auto const top = *rc::gen::inRange<std::int64_t>(0, picture.height);
    auto const wide = *rc::gen::inRange<std::int64_t>(1, picture.width);
    auto const tall = *rc::gen::inRange<std::int64_t>(1, picture.height);
    auto const shade = *rc::gen::arbitrary<char>();
    for (std::int64_t y = top; y < std::min(top + tall, picture.height); ++y) {
        for (std::int64_t x = left; x < std::min(left + wide, picture.width); ++x)
            picture.grey[static_cast<std::size_t>(y * picture.width + x)] = shade;
    }
    std::string const text = said(picture);
    RC_ASSERT(text == "HDA-3/07/A12" || text == "nothing");
}

} // namespace code_reader_test
} // namespace guidepin::web
