// SPDX-License-Identifier: Apache-2.0
#include "web/http_wire.hpp"

#include <openssl/err.h>
#include <openssl/ssl.h>

#include <cerrno>

#include <fmt/format.h>
#include <sys/socket.h>

namespace guidepin::web {

Result<TlsKeys> tls_keys(std::string const& certificate, std::string const& private_key)
{
    TlsKeys keys(SSL_CTX_new(TLS_server_method()), SSL_CTX_free);
    SSL_CTX* const context = keys.get();
    bool const good = context != nullptr && SSL_CTX_set_min_proto_version(context, TLS1_2_VERSION) == 1 &&
                      SSL_CTX_use_certificate_chain_file(context, certificate.c_str()) == 1 &&
                      SSL_CTX_use_PrivateKey_file(context, private_key.c_str(), SSL_FILETYPE_PEM) == 1 &&
                      SSL_CTX_check_private_key(context) == 1;
    ERR_clear_error();
    if (!good)
        return Error{Errc::environment, fmt::format("{} and {} are no certificate with its key (PEM)",
                                                    certificate, private_key)};
    SSL_CTX_set_options(context, SSL_OP_NO_COMPRESSION | SSL_OP_NO_RENEGOTIATION |
                                     SSL_OP_CIPHER_SERVER_PREFERENCE | SSL_OP_IGNORE_UNEXPECTED_EOF);
    // A connection that is idle gives its buffers back; sessions are kept by the other side, in tickets.
    SSL_CTX_set_mode(context, SSL_MODE_RELEASE_BUFFERS | SSL_MODE_ENABLE_PARTIAL_WRITE |
                                  SSL_MODE_ACCEPT_MOVING_WRITE_BUFFER);
    SSL_CTX_set_session_cache_mode(context, SSL_SESS_CACHE_OFF);
    return keys;
}

void Wire::Free::operator()(ssl_st* tls) const
{
    SSL_free(tls);
}

bool Wire::begin_tls(TlsKeys keys)
{
    keys_ = std::move(keys);
    tls_.reset(SSL_new(keys_.get()));
    if (!tls_ || SSL_set_fd(tls_.get(), socket_) != 1) return false;
    SSL_set_accept_state(tls_.get());
    return true;
}

Flow Wire::flow_of(int outcome)
{
    switch (SSL_get_error(tls_.get(), outcome)) {
    case SSL_ERROR_NONE:
        return Flow::some;
    case SSL_ERROR_WANT_READ:
        return Flow::want_read;
    case SSL_ERROR_WANT_WRITE:
        return Flow::want_write;
    default:
        ERR_clear_error();
        return Flow::ended;
    }
}

Flow Wire::shake_hands()
{
    ERR_clear_error();
    return flow_of(SSL_do_handshake(tls_.get()));
}

Moved Wire::receive(char* into, std::size_t room)
{
    if (tls_) {
        ERR_clear_error();
        std::size_t bytes = 0;
        int const outcome = SSL_read_ex(tls_.get(), into, room, &bytes);
        return outcome == 1 ? Moved{Flow::some, bytes} : Moved{flow_of(outcome), 0};
    }
    for (;;) {
        ssize_t const bytes = ::recv(socket_, into, room, MSG_DONTWAIT);
        if (bytes > 0) return {Flow::some, static_cast<std::size_t>(bytes)};
        if (bytes < 0 && errno == EINTR) continue;
        return {bytes < 0 && (errno == EAGAIN || errno == EWOULDBLOCK) ? Flow::want_read : Flow::ended, 0};
    }
}

Moved Wire::send(char const* from, std::size_t size)
{
    if (size == 0) return {Flow::some, 0};
    if (tls_) {
        ERR_clear_error();
        std::size_t bytes = 0;
        int const outcome = SSL_write_ex(tls_.get(), from, size, &bytes);
        return outcome == 1 ? Moved{Flow::some, bytes} : Moved{flow_of(outcome), 0};
    }
    for (;;) {
        ssize_t const bytes = ::send(socket_, from, size, MSG_DONTWAIT | MSG_NOSIGNAL);
        if (bytes >= 0) return {Flow::some, static_cast<std::size_t>(bytes)};
        if (errno == EINTR) continue;
        return {errno == EAGAIN || errno == EWOULDBLOCK ? Flow::want_write : Flow::ended, 0};
    }
}

void Wire::say_goodbye()
{
    if (!tls_ || SSL_is_init_finished(tls_.get()) != 1) return;
    ERR_clear_error();
    SSL_shutdown(tls_.get());
    ERR_clear_error();
}

} // namespace guidepin::web
