// SPDX-License-Identifier: Apache-2.0
// The certificate that we make, read back by OpenSSL: independent of how it was written.
#include "web/own_certificate.hpp"

#include <gtest/gtest.h>

#include <cstdio>
#include <filesystem>

#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

namespace guidepin::web {
namespace {

std::string said_by(std::string const& command)
{
    std::string text;
    std::FILE* const pipe = ::popen(command.c_str(), "r");
    char bytes[4096];
    while (pipe && std::fgets(bytes, sizeof bytes, pipe)) text += bytes;
    if (pipe) ::pclose(pipe);
    return text;
}

TEST(OwnCertificate, IsMadeOnceAndHolds)
{
    auto const folder = std::filesystem::temp_directory_path() / fmt::format("guidepin-tls-{}", ::getpid());
    std::filesystem::remove_all(folder);
    auto const made = own_certificate(folder.string(), "192.0.2.7");
    ASSERT_TRUE(made.has_value()) << made.error().message;
    struct stat status = {};
    ASSERT_EQ(::stat(made->private_key.c_str(), &status), 0);
    EXPECT_EQ(status.st_mode & 0777, 0600U) << "the key is its owner's alone";
    std::string const seen = said_by(
        fmt::format("openssl x509 -in '{}' -noout -text -fingerprint -sha256 2>&1", made->certificate));
    EXPECT_NE(seen.find("IP Address:192.0.2.7"), std::string::npos) << seen;
    EXPECT_NE(seen.find("DNS:localhost"), std::string::npos);
    EXPECT_NE(seen.find("ecdsa-with-SHA256"), std::string::npos);
    EXPECT_NE(seen.find(made->fingerprint), std::string::npos);
    EXPECT_NE(said_by(fmt::format("openssl verify -CAfile '{0}' '{0}' 2>&1", made->certificate)).find("OK"),
              std::string::npos);
    auto const again = own_certificate(folder.string(), "192.0.2.7");
    ASSERT_TRUE(again.has_value());
    EXPECT_EQ(again->fingerprint, made->fingerprint);
    std::filesystem::remove_all(folder);
}

} // namespace
} // namespace guidepin::web
