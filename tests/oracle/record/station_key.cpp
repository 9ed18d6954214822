// SPDX-License-Identifier: Apache-2.0
// Oracle: RFC 8032 (January 2017) section 7.1, Ed25519 test vectors TEST 1, TEST 2, TEST 3. Exact: signing is
// deterministic.
#include "record/station_key.hpp"

#include "record/digest.hpp"

#include <gtest/gtest.h>

namespace guidepin::record {
namespace station_key_test {

struct Row
{
    char const* seed;
    char const* public_key;
    std::string message;
    char const* signature;
};

TEST(StationKeyRfc8032, Section71)
{
    Row const rows[] = {
        {"9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
         "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a", "",
         "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b46bd25"
         "bf5f0595bbe24655141438e7a100b"},
        {"4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
         "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c", "\x72",
         "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11d8c387"
         "b2eaeb4302aeeb00d291612bb0c00"},
        {"c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7",
         "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025", "\xaf\x82",
         "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac18ff9b538d16f290ae67f760984dc6594a7"
         "c15e9716ed28dc027beceea1ec40a"},
    };
    for (Row const& row : rows) {
        std::array<std::uint8_t, 32> seed{};
        ASSERT_TRUE(read_hex(row.seed, seed.data(), seed.size()));
        StationKey const key = StationKey::from_seed(seed);
        EXPECT_EQ(key.public_key().hex(), row.public_key);
        Signature const signature = key.sign(row.message);
        EXPECT_EQ(signature.hex(), row.signature);
        EXPECT_TRUE(signature_holds(key.public_key(), row.message, signature));
        EXPECT_FALSE(signature_holds(key.public_key(), row.message + "x", signature));
        Signature bent = signature;
        bent.bytes[10] ^= 1;
        EXPECT_FALSE(signature_holds(key.public_key(), row.message, bent));
    }
}

} // namespace station_key_test
} // namespace guidepin::record
