// SPDX-License-Identifier: Apache-2.0
// What a terminal gets to see of foreign bytes.
#include "cli/readable.hpp"

#include "base/text.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <string>

namespace guidepin::cli {
namespace readable_test {

TEST(Readable, LeavesTextAsItIs)
{
    std::string const text = "Prüfung: 0.31 dB → “gut”\n\tZeile 2 漢字 🔌";
    EXPECT_EQ(readable(text), text);
    EXPECT_EQ(readable(""), "");
}

TEST(Readable, WritesOutWhatATerminalWouldObeyOrCannotShow)
{
    EXPECT_EQ(readable("a\x1b[2Jb\rc\x7f"), "a\\x1b[2Jb\\x0dc\\x7f");
    EXPECT_EQ(readable("tab\xeele"), "tab\\xeele");
    EXPECT_EQ(readable("\xe2\x82"), "\\xe2\\x82") << "a character that is cut off";
    EXPECT_EQ(readable("\xc2\x9b"
                       "31m"),
              "\\u009b31m")
        << "a control character above ASCII";
    EXPECT_EQ(readable("\xe2\x80\xae"
                       "fdp"),
              "\\u202efdp")
        << "right to left";
}

TEST(Readable, KeepsColoursOnATerminalAndNothingElse)
{
    EXPECT_EQ(readable_in_colour("\x1b[38;5;166mfail\x1b[0m"), "\x1b[38;5;166mfail\x1b[0m");
    EXPECT_EQ(readable_in_colour("\x1b[2J\x1b]0;title\x07"), "\\x1b[2J\\x1b]0;title\\x07");
    EXPECT_EQ(readable_in_colour("\x1b[31"), "\\x1b[31");
    EXPECT_EQ(readable("\x1b[0m"), "\\x1b[0m");
}

RC_GTEST_PROP(Readable, AnyBytesBecomeTextThatStaysAsItIs, (std::string const& bytes))
{
    std::string const shown = readable(bytes);
    RC_ASSERT(is_utf8(shown));
    RC_ASSERT(readable(shown) == shown);
    for (char const letter : shown) {
        auto const byte = static_cast<unsigned char>(letter);
        RC_ASSERT((byte >= ' ' && byte != 0x7F) || byte == '\n' || byte == '\t');
    }
}

} // namespace readable_test
} // namespace guidepin::cli
