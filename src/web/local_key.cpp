// SPDX-License-Identifier: Apache-2.0
#include "web/local_key.hpp"

#include "web/desk.hpp"
#include "web/private_file.hpp"

#include <openssl/crypto.h>

#include <unistd.h>

namespace guidepin::web {

namespace {

constexpr std::size_t key_bytes = 24; // 192 bits: no limit on guesses is needed

} // namespace

LocalKey::LocalKey(std::string address, std::string path)
    : address_(std::move(address))
    , path_(std::move(path))
{
    renew();
}

LocalKey::~LocalKey()
{
    ::unlink(path_.c_str());
}

bool LocalKey::use(std::string const& key)
{
    std::lock_guard const guard(lock_);
    // The time that the comparison takes says nothing about the key.
    if (key.size() != key_.size() || CRYPTO_memcmp(key.data(), key_.data(), key.size()) != 0) return false;
    renew();
    return true;
}

std::string LocalKey::one_time_address() const
{
    std::lock_guard const guard(lock_);
    return address_ + "?key=" + key_;
}

std::string LocalKey::trouble() const
{
    std::lock_guard const guard(lock_);
    return trouble_;
}

void LocalKey::renew()
{
    key_ = random_word(key_bytes);
    auto const written = write_private_file(path_, address_ + "?key=" + key_ + "\n");
    trouble_ = written ? std::string{} : written.error().message;
}

} // namespace guidepin::web
