// SPDX-License-Identifier: Apache-2.0
// Oracle: FIPS 180-4 (August 2015) SHA-256; message digests of NIST's "SHA-256 examples" for one block
// ("abc"), two blocks, the empty message, and one million letters a (FIPS 180-2, appendix B.3). Exact.
#include "record/digest.hpp"

#include <gtest/gtest.h>

namespace guidepin::record {
namespace digest_test {

struct Row
{
    std::string message;
    char const* digest;
};

TEST(Sha256Fips180, Examples)
{
    Row const rows[] = {
        {"", "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"},
        {"abc", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"},
        {"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq",
         "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1"},
        {std::string(1'000'000, 'a'), "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0"},
    };
    for (Row const& row : rows) {
        EXPECT_EQ(sha256(row.message).hex(), row.digest);
        // In pieces of uneven size it is the same.
        Sha256 pieces;
        for (std::size_t at = 0, size = 1; at < row.message.size(); at += size, size = size * 3 % 97 + 1) {
            pieces.update(std::string_view(row.message).substr(at, size));
        }
        EXPECT_EQ(pieces.finish().hex(), row.digest);
    }
}

TEST(Sha256Fips180, HexReadsBack)
{
    Digest const digest = sha256("abc");
    EXPECT_EQ(Digest::from_hex(digest.hex()), digest);
    EXPECT_FALSE(Digest::from_hex("BA7816"));
    EXPECT_FALSE(Digest::from_hex(std::string(64, 'g')));
}

} // namespace digest_test
} // namespace guidepin::record
