// SPDX-License-Identifier: Apache-2.0
// The one-time key of the serving machine. Other people may be logged in there, and a tunnel or a proxy makes
// a stranger's request look local: so being local is not enough. Whoever started the workbench opens the
// address that carries the key; it holds once, and the next one is in a file that only that user may read.
// Verified by: tests/unit/web/local_key.cpp, tests/web/pairing.test.mjs.
#pragma once

#include "base/result.hpp"

#include <mutex>
#include <string>

namespace guidepin::web {

class LocalKey
{
  public:
    /// `address`: "http://127.0.0.1:8350/"; `path`: the file of the present one-time address, written at
    /// once.
    LocalKey(std::string address, std::string path);
    /// Takes the file away.
    ~LocalKey();
    LocalKey(LocalKey const&) = delete;
    LocalKey& operator=(LocalKey const&) = delete;

    /// Whether this is the key; it is void afterwards, and another one takes its place.
    bool use(std::string const& key);
    /// "http://127.0.0.1:8350/?key=…"
    std::string one_time_address() const;
    std::string const& path() const { return path_; }
    /// Why the file could not be written; empty when it was.
    std::string trouble() const;

  private:
    void renew();

    std::string const address_, path_;
    mutable std::mutex lock_;
    std::string key_, trouble_;
};

} // namespace guidepin::web
