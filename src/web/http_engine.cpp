// SPDX-License-Identifier: Apache-2.0
// The engine as its owner sees it: open, run, stop; and the loop's clock.
#include "web/http_engine.hpp"

#include "web/http_loop.hpp"

#include <csignal>
#include <netinet/in.h>
#include <pthread.h>
#include <sys/resource.h>

namespace guidepin::web {

namespace {

/// As many connections as the system has files for, less what the rest of the program needs.
std::size_t connections_within(std::size_t wanted)
{
    rlimit limit{};
    if (::getrlimit(RLIMIT_NOFILE, &limit) != 0) return std::min<std::size_t>(wanted, 256);
    rlim_t const needed = wanted + files_kept_free;
    if (limit.rlim_cur < needed) {
        limit.rlim_cur = std::min(needed, limit.rlim_max);
        ::setrlimit(RLIMIT_NOFILE, &limit);
        ::getrlimit(RLIMIT_NOFILE, &limit);
    }
    if (limit.rlim_cur >= needed) return wanted;
    return limit.rlim_cur > 2 * files_kept_free ? limit.rlim_cur - files_kept_free : files_kept_free;
}

} // namespace

void Engine::Loop::tick()
{
    timer.expires_after(look_every);
    timer.async_wait([this](Failure stopped) {
        if (stopped) return;
        auto const now = SteadyClock::now();
        std::vector<Held> late;
        for (Held const& held : connections) {
            if (now > held->deadline) late.push_back(held);
        }
        for (Held const& held : late) close(held);
        if (++ticks % 10 == 0 && !ending) look_at_streams(now);
        if (!io.stopped()) tick();
    });
}

void Engine::Loop::watch_changes()
{
    std::uint64_t seen = 0;
    while (!ending) {
        std::uint64_t const now = application->wait_for_change(seen, 1'000);
        if (now == seen) continue;
        seen = now;
        asio::post(io, [this, now] { send_change_to_all(now); });
    }
}

void Engine::Loop::begin_end()
{
    if (ender.joinable()) return;
    ending = true;
    Failure ignored;
    acceptor.close(ignored);
    again.cancel(ignored);
    std::vector<Held> idle;
    for (Held const& held : connections) {
        if (held->phase == Phase::writing)
            held->deadline = std::min(held->deadline, SteadyClock::now() + last_words);
        else if (held->phase != Phase::working)
            idle.push_back(held);
    }
    for (Held const& held : idle) {
        held->wire.say_goodbye();
        close(held);
    }
    ender = std::thread([this] {
        work->end();
        // What the workers posted comes before this.
        asio::post(io, [this] {
            workers_done = true;
            end_when_empty();
        });
    });
}

void Engine::Loop::end_when_empty()
{
    if (ending && workers_done && connections.empty()) io.stop();
}

Engine::Engine()
    : loop_(std::make_unique<Loop>())
{
}

Engine::~Engine() = default;

Result<std::unique_ptr<Engine>> Engine::open(std::string const& host, int port, EngineLimits limits)
{
    std::unique_ptr<Engine> engine(new Engine);
    Loop& loop = *engine->loop_;
    loop.limits = limits;
    loop.limits.connections = connections_within(limits.connections);
    Failure failure;
    tcp::resolver resolver(loop.io);
    auto const found = resolver.resolve(host, std::to_string(port),
                                        tcp::resolver::passive | tcp::resolver::numeric_service, failure);
    if (!failure && !found.empty()) {
        tcp::endpoint const end = found.begin()->endpoint();
        loop.acceptor.open(end.protocol(), failure);
        if (!failure) loop.acceptor.set_option(tcp::acceptor::reuse_address(true), failure);
        if (!failure) loop.acceptor.bind(end, failure);
        constexpr int backlog = 1'024;
        if (!failure) loop.acceptor.listen(backlog, failure);
    }
    if (failure || found.empty())
        return Error{
            Errc::environment,
            fmt::format("{} port {} cannot be opened: is another program using it? Try another --port", host,
                        port)};
    return engine;
}

int Engine::port() const
{
    Failure ignored;
    return loop_->acceptor.local_endpoint(ignored).port();
}

Outcome Engine::use_certificate(std::string const& certificate, std::string const& private_key)
{
    TRY_ASSIGN(TlsKeys keys, tls_keys(certificate, private_key));
    std::lock_guard const guard(loop_->keys_lock);
    loop_->keys = std::move(keys);
    return {};
}

void Engine::run(Application& application)
{
    Loop& loop = *loop_;
    loop.application = &application;
    loop.work = std::make_unique<Work>(loop.limits.work);
    // OpenSSL writes to sockets by write(): who went away is an error there, no reason to end the program.
    sigset_t pipe;
    sigemptyset(&pipe);
    sigaddset(&pipe, SIGPIPE);
    pthread_sigmask(SIG_BLOCK, &pipe, nullptr);
    loop.notifier = std::thread([&loop] { loop.watch_changes(); });
    loop.accept();
    loop.tick();
    for (;;) {
        try {
            loop.io.run();
            break;
        } catch (std::exception const& error) {
            // No memory for one connection, say: the others go on, and a deadline ends that one.
            std::fprintf(stderr, "guidepin: A connection failed: %s\n", error.what());
        }
    }
    loop.ending = true;
    if (loop.notifier.joinable()) loop.notifier.join();
    if (loop.ender.joinable()) loop.ender.join();
    loop.work = nullptr;
}

void Engine::stop()
{
    asio::post(loop_->io, [loop = loop_.get()] { loop->begin_end(); });
}

} // namespace guidepin::web
