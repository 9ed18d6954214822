// SPDX-License-Identifier: Apache-2.0
// What a phone reads from the code of a pairing. Oracle: ZXing, a reader that shares nothing with
// libqrencode, which makes the code.
#include "web/reach.hpp"
#include "report/qr.hpp"
#include "web/code_reader.hpp"

#include <gtest/gtest.h>

#include <sstream>

namespace guidepin::web {
namespace reach_test {

TEST(Reach, AddressesHaveTheBracketsOfIpv6)
{
    EXPECT_EQ(address_of(true, "192.0.2.7", 8350), "https://192.0.2.7:8350/");
    EXPECT_EQ(address_of(true, "2001:db8::7", 8350), "https://[2001:db8::7]:8350/");
    EXPECT_EQ(address_of(false, "127.0.0.1", 80), "http://127.0.0.1:80/");
}

TEST(Reach, NothingSecretStandsBeforeTheFragment)
{
    std::string const text = pairing_text("https://192.0.2.7:8350/", "12345678", "AB:CD:EF");
    EXPECT_EQ(text, "https://192.0.2.7:8350/pair#code=12345678&sha256=ABCDEF");
    EXPECT_EQ(text.substr(0, text.find('#')), "https://192.0.2.7:8350/pair") << "all that a browser sends";
}

TEST(Reach, TheTerminalsCodeIsReadBack)
{
    std::string fingerprint = "AB";
    for (int i = 1; i < 32; ++i) fingerprint += ":AB";
    std::string const text = pairing_text("https://[2001:db8:1234:5678:9abc:def0:1234:5678]:65535/",
                                          "1234567812345678", fingerprint);
    auto const lines = report::qr_half_blocks(text);
    ASSERT_TRUE(lines.has_value());
    // Each character is two modules one over the other; each module becomes 4 x 4 grey pixels.
    std::vector<std::vector<bool>> modules;
    std::istringstream rows(*lines);
    for (std::string row; std::getline(rows, row);) {
        row = row.substr(row.find('m') + 1);
        row = row.substr(0, row.find('\033'));
        std::vector<bool> upper, lower;
        for (std::size_t i = 0; i < row.size();) {
            std::string const glyph = row.substr(i, row[i] == ' ' ? 1 : 3);
            i += glyph.size();
            upper.push_back(glyph == "█" || glyph == "▀");
            lower.push_back(glyph == "█" || glyph == "▄");
        }
        modules.push_back(upper);
        modules.push_back(lower);
    }
    constexpr std::size_t scale = 4;
    std::size_t const wide = modules.at(0).size(), tall = modules.size();
    ASSERT_LE(wide, 78U) << "fits the width of a terminal";
    std::string grey(wide * scale * tall * scale, '\xff');
    for (std::size_t y = 0; y < tall; ++y) {
        ASSERT_EQ(modules[y].size(), wide);
        for (std::size_t x = 0; x < wide; ++x) {
            for (std::size_t i = 0; modules[y][x] && i < scale * scale; ++i)
                grey[(y * scale + i / scale) * wide * scale + x * scale + i % scale] = '\0';
        }
    }
    auto const read =
        read_code(static_cast<std::int64_t>(wide * scale), static_cast<std::int64_t>(tall * scale), grey);
    ASSERT_TRUE(read.has_value()) << read.error().message;
    EXPECT_EQ(read->value_or("nothing"), text);
}

} // namespace reach_test
} // namespace guidepin::web
