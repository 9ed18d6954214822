// SPDX-License-Identifier: Apache-2.0
// How the workbench gets its people in: the certificate, the one-time address of the serving machine, the
// code of the first device, and what is said about them on the terminal. Verified by:
// tests/unit/web/welcome.cpp, tests/web/pairing.test.mjs.
#pragma once

#include "base/clock.hpp"
#include "base/result.hpp"
#include "web/local_key.hpp"
#include "web/reach.hpp"

#include <functional>
#include <memory>
#include <mutex>
#include <string>
#include <string_view>
#include <vector>

namespace guidepin::web {

struct WelcomeSettings
{
    std::string listen;
    bool tls = false;
    std::string certificate, private_key; ///< given PEM files; empty: one of our own
    std::string own_folder;               ///< where that and the one-time address are kept
    Clock const* clock = nullptr;
    bool terminal = false; ///< somebody reads along: the next one-time address is shown there
    /// PEM files of certificate and key: for connections from now on.
    std::function<Outcome(std::string const&, std::string const&)> use_certificate;
    /// A line for the terminal that comes later; called from any thread.
    std::function<void(std::string_view)> announce;
};

class Welcome
{
  public:
    /// Reads or makes the certificate where TLS is asked for.
    static Result<std::unique_ptr<Welcome>> open(WelcomeSettings settings);

    /// The port is known from here on; writes the one-time address.
    void listening(int port);
    std::shared_ptr<Reach const> reach() const;

    /// Whether this was the one-time key. Tells the next one on a terminal.
    bool use_key(std::string const& key);
    std::string one_time_address() const;
    /// What the terminal says at first, but for the one-time address itself. `code`: for the first device, of
    /// `person`; empty when this machine alone may ask.
    std::string greeting(std::string_view code, std::string_view person) const;

    /// Now and then: renews the certificate when it has to be, and takes one that somebody renewed. Whether
    /// it is another one now.
    bool look_after();

  private:
    explicit Welcome(WelcomeSettings settings);
    /// Whether it was made in place of another just now.
    Result<bool> read_certificate();
    std::string change_told(Reach const& at, std::string_view before) const;
    /// The address at which this machine itself opens the workbench.
    std::string own_host() const;
    /// Those at which other devices open it, as they are now; none before the port is known.
    std::vector<std::string> addresses_of_others() const;
    void announce(std::string_view line) const;

    WelcomeSettings settings_;
    int port_ = 0;
    std::unique_ptr<LocalKey> key_;
    bool renewed_at_start_ = false;
    mutable std::mutex lock_;
    std::shared_ptr<Reach const> reach_;
};

} // namespace guidepin::web
