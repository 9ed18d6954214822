// SPDX-License-Identifier: Apache-2.0
// What must hold of the addresses of any machine.
#include "web/own_addresses.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace guidepin::web {
namespace own_addresses_test {

TEST(OwnAddresses, LoopbackIsLoopbackInEachSpelling)
{
    for (char const* one : {"127.0.0.1", "127.0.0.2", "::1", "localhost", "::ffff:127.0.0.1"})
        EXPECT_TRUE(is_loopback(one) && is_own_address(one)) << one;
    for (char const* one : {"192.0.2.7", "::", "0.0.0.0", "2001:db8::127.0.0.1", "12.7.0.0"})
        EXPECT_FALSE(is_loopback(one)) << one;
    EXPECT_FALSE(is_own_address("192.0.2.250")) << "TEST-NET-1 belongs to no machine";
}

TEST(OwnAddresses, ThoseThatOthersReachAreOwnAndNotLoopback)
{
    for (char const* listen : {"0.0.0.0", "::"}) {
        for (std::string const& one : reachable_addresses(listen)) {
            EXPECT_TRUE(is_own_address(one)) << one;
            EXPECT_FALSE(is_loopback(one)) << one;
            EXPECT_NE(one.substr(0, 5), "fe80:") << one;
            EXPECT_TRUE(one.find(':') == std::string::npos || std::string(listen) == "::") << one;
        }
    }
    EXPECT_THAT(reachable_addresses("192.0.2.7"), ::testing::ElementsAre("192.0.2.7"));
}

TEST(OwnAddresses, ANameOfAHostIsNothingElse)
{
    EXPECT_TRUE(is_host_name("hall-2.local"));
    for (char const* one : {"", "a b", "a,DNS:b", "a\nb", "ä"}) EXPECT_FALSE(is_host_name(one)) << one;
    for (std::string const& one : own_host_names()) EXPECT_TRUE(is_host_name(one)) << one;
}

} // namespace own_addresses_test
} // namespace guidepin::web
