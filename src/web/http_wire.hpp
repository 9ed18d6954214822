// SPDX-License-Identifier: Apache-2.0
// Bytes over one connection that never waits, in the clear or by TLS. TLS works on the socket itself rather
// than by way of a library's buffers: a stranger who begins a handshake costs some 30 kB, not 100.
// Verified by: tests/web/limits.test.mjs.
#pragma once

#include "base/result.hpp"

#include <cstddef>
#include <memory>
#include <string>

struct ssl_ctx_st;
struct ssl_st;

namespace guidepin::web {

/// A certificate with its key, for connections to come. Null is none: in the clear.
using TlsKeys = std::shared_ptr<ssl_ctx_st>;
/// Reads PEM files. Errors: environment when they are no certificate with its key.
Result<TlsKeys> tls_keys(std::string const& certificate, std::string const& private_key);

enum class Flow {
    some,       ///< bytes went over, or the handshake is done
    want_read,  ///< come back when the socket can be read
    want_write, ///< come back when it can be written
    ended,      ///< the other side went away, or broke the protocol
};

struct Moved
{
    Flow flow = Flow::ended;
    std::size_t bytes = 0;
};

class Wire
{
  public:
    Wire() = default;
    /// A socket that does not block; it stays the caller's.
    explicit Wire(int socket)
        : socket_(socket)
    {
    }
    /// From here on by TLS.
    bool begin_tls(TlsKeys keys);
    Flow shake_hands();
    Moved receive(char* into, std::size_t room);
    Moved send(char const* from, std::size_t size);
    /// Says goodbye as far as that goes at once.
    void say_goodbye();

  private:
    struct Free
    {
        void operator()(ssl_st* tls) const;
    };
    Flow flow_of(int outcome);

    int socket_ = -1;
    TlsKeys keys_;
    std::unique_ptr<ssl_st, Free> tls_;
};

} // namespace guidepin::web
