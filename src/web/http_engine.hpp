// SPDX-License-Identifier: Apache-2.0
// Connections: one thread moves all bytes, with a deadline on whatever a stranger could draw out and a limit
// on whatever he could pile up; pages are made by a few workers. It knows no page, no session and no job.
// Verified by: tests/web/limits.test.mjs (attacked), bench/load.mjs (used by many).
#pragma once

#include "base/result.hpp"
#include "web/http_answer.hpp"
#include "web/http_request.hpp"
#include "web/http_work.hpp"

#include <chrono>
#include <cstdint>
#include <memory>
#include <optional>
#include <string>

namespace guidepin::web {

struct EngineLimits
{
    using Span = std::chrono::milliseconds;
    RequestLimits request;
    WorkLimits work;
    std::size_t connections = 2'048;
    std::size_t strangers_per_address = 64, strangers = 384; ///< who has shown no session yet
    std::size_t local_strangers = 1'200;                     ///< on the serving machine itself
    std::size_t heavy_strangers = 384;                       ///< with TLS or a long head, wherever from
    std::size_t bodies = 64U << 20U;                         ///< all bodies that are being read or worked on
    std::size_t streams = 256, streams_per_address = 64, streams_per_session = 16;
    Span handshake{5'000}, head{10'000};
    Span body{20'000};  ///< and a second for each 64 kB
    Span write{10'000}; ///< without progress
    Span idle{6'000}, idle_busy{2'000}, idle_stranger{3'000};
    Span still_here{10'000}; ///< between comments of a stream
};

/// A stream of "something changed" rather than a page.
struct StreamAsked
{
    std::string session;
    std::string lines; ///< header lines of its answer
};

/// What is to be done with a request of which only the head is known.
struct Opinion
{
    bool known = false;           ///< it shows a session, or comes from the serving machine
    std::optional<Answer> answer; ///< said at once
    std::optional<StreamAsked> stream;
    bool without_body = false; ///< the page is asked for its refusal; the body is not read
};

/// The side of the pages.
class Application
{
  public:
    virtual ~Application() = default;
    /// On the thread that moves all bytes: quick, and never waiting for the job.
    virtual Opinion look(Head const& head) = 0;
    /// On a worker. The request's body is as it came.
    virtual Answer answer(Request request, bool without_body) = 0;
    virtual bool is_open(std::string const& session) = 0;
    /// The number of changes so far, once it is no longer `seen` or the time is over.
    virtual std::uint64_t wait_for_change(std::uint64_t seen, int milliseconds) = 0;
};

class Engine
{
  public:
    /// Takes the port; nobody is answered before run(). Errors: environment when it cannot be had.
    static Result<std::unique_ptr<Engine>> open(std::string const& host, int port, EngineLimits limits = {});
    ~Engine();

    int port() const;
    /// PEM files; for connections from now on, at any time and from any thread.
    Outcome use_certificate(std::string const& certificate, std::string const& private_key);
    /// Until stop(): pages that are being made are finished and sent.
    void run(Application& application);
    void stop(); ///< from any thread, at any time

    struct Loop;

  private:
    Engine();
    std::unique_ptr<Loop> loop_;
};

} // namespace guidepin::web
