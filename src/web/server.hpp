// SPDX-License-Identifier: Apache-2.0
// The workbench on a port: HTTP, TLS, who may ask, what may be sent. Everything else is in the pages.
// Verified by: tests/web (the real server, attacked and used).
#pragma once

#include "web/desk.hpp"
#include "web/door.hpp"

#include <functional>
#include <memory>
#include <string>

namespace guidepin::web {

struct ServerSettings
{
    DeskSettings desk;
    std::string listen = "127.0.0.1";
    int port = 0;                         ///< 0: any free one
    std::string certificate, private_key; ///< PEM files; empty: made on first use in `own_folder`
    bool tls = false;
    std::string own_folder; ///< where a certificate of our own and the one-time address are kept
    bool terminal = false;  ///< somebody reads along what is announced
    std::function<void(std::string_view)> announce; ///< lines for the terminal; called from any thread
};

class Server
{
  public:
    static Result<std::unique_ptr<Server>> open(ServerSettings settings);
    ~Server();

    /// "http://127.0.0.1:8080/"
    std::string const& address() const;
    /// "http://127.0.0.1:8080/?key=…": opens the workbench once on this machine, as a lead.
    std::string one_time_address() const;
    /// What the terminal says at first, beside that address: where the next one is, the certificate, the code
    /// of the first device.
    std::string greeting() const;
    /// Once a minute: ends what is over, renews the certificate when it has to be.
    void look_after();
    Desk& desk();

    /// Until stop() is called.
    Outcome run();
    void stop();

  private:
    Server();
    struct Inside;
    std::unique_ptr<Inside> inside_;
};

} // namespace guidepin::web
