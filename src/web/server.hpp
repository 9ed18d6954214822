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
    std::string own_folder; ///< where a certificate of our own is kept
};

class Server
{
  public:
    static Result<std::unique_ptr<Server>> open(ServerSettings settings);
    ~Server();

    /// "http://127.0.0.1:8080/"
    std::string const& address() const;
    /// A code with which a first device may be paired as a lead; empty on loopback.
    std::string const& first_code() const;
    Desk& desk();
    /// PEM files, for connections from now on; from any thread. The server has to speak TLS already.
    Outcome use_certificate(std::string const& certificate, std::string const& private_key);

    /// Until stop() is called.
    Outcome run();
    void stop();

  private:
    Server();
    struct Inside;
    std::unique_ptr<Inside> inside_;
};

} // namespace guidepin::web
