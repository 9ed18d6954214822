// SPDX-License-Identifier: Apache-2.0
// What is packed here, zlib's own inflate() reads back; it checks the sum and the length at the end (RFC
// 1952).
#include "web/compress.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>
#include <zlib.h>

namespace guidepin::web {
namespace compress_test {

/// By zlib; "not gzip" where it finds a mistake or anything after the end.
std::string unpacked(std::string const& packed)
{
    constexpr int gzip = 15 + 16;
    z_stream stream{};
    if (inflateInit2(&stream, gzip) != Z_OK) return "no memory";
    std::string out(4U << 20U, '\0');
    stream.next_in = reinterpret_cast<Bytef*>(const_cast<char*>(packed.data()));
    stream.avail_in = static_cast<uInt>(packed.size());
    stream.next_out = reinterpret_cast<Bytef*>(out.data());
    stream.avail_out = static_cast<uInt>(out.size());
    int const code = inflate(&stream, Z_FINISH);
    out.resize(stream.total_out);
    bool const whole = code == Z_STREAM_END && stream.avail_in == 0;
    inflateEnd(&stream);
    return whole ? out : "not gzip";
}

std::string joined(std::vector<std::string> const& pieces, std::string const& word)
{
    std::string out;
    for (std::size_t i = 0; i < pieces.size(); ++i) out += (i > 0 ? word : "") + pieces[i];
    return out;
}

RC_GTEST_PROP(Compressed, AnyTextIsReadBack, (std::string text))
{
    RC_ASSERT(unpacked(*compressed(text)) == text);
}

RC_GTEST_PROP(CompressedPieces, AnyPiecesAndAnyWordAreReadBack, ())
{
    // Pieces like a page's: some repeat, some are empty, words have the length of a token or none.
    auto const pieces = *rc::gen::nonEmpty(rc::gen::container<std::vector<std::string>>(
        rc::gen::oneOf(rc::gen::arbitrary<std::string>(),
                       rc::gen::map(rc::gen::inRange<std::size_t>(0, 5000),
                                    [](std::size_t n) { return std::string(n, 'a') + "<form>"; }))));
    auto const word = *rc::gen::arbitrary<std::string>();
    CompressedPieces const kept = *CompressedPieces::of({pieces.begin(), pieces.end()});
    RC_ASSERT(unpacked(kept.with(word)) == joined(pieces, word));
    RC_ASSERT(unpacked(kept.with("")) == joined(pieces, ""));
}

TEST(CompressedPieces, TakeTheLongestWordThatABlockHolds)
{
    std::string const longest(65'535, 'w');
    EXPECT_EQ(unpacked(CompressedPieces::of({"a", "b"})->with(longest)), "a" + longest + "b");
    EXPECT_EQ(unpacked(CompressedPieces::of({""})->with("never")), "");
}

TEST(CompressedPieces, ALargePageIsStillSmall)
{
    std::string page;
    for (int row = 0; row < 2'000; ++row)
        page += "<tr><td>N-" + std::to_string(row) + "</td><td>passes</td></tr>";
    std::string const with_gaps = CompressedPieces::of({page, page, page})->with("0123456789abcdef");
    EXPECT_LT(with_gaps.size(), 3 * page.size() / 5);
}

} // namespace compress_test
} // namespace guidepin::web
