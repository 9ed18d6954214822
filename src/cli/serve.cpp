// SPDX-License-Identifier: Apache-2.0
// The workbench, until it is interrupted.
#include "cli/job_world.hpp"
#include "cli/readable.hpp"
#include "cli/registry.hpp"
#include "job/files/files.hpp"
#include "web/server.hpp"

#include <algorithm>
#include <array>
#include <atomic>
#include <cerrno>
#include <chrono>
#include <csignal>
#include <cstdio>
#include <filesystem>
#include <thread>

#include <fmt/format.h>
#include <poll.h>
#include <pthread.h>
#include <unistd.h>

namespace guidepin::cli {

namespace {

constexpr auto looked_after_every = std::chrono::seconds(60);

/// Waits for an interrupt or for `seconds` (0: no end); once a minute it calls look_after().
void wait_for_end(sigset_t const& interrupts, int seconds, web::Server& server)
{
    using Clock = std::chrono::steady_clock;
    auto const end = Clock::now() + std::chrono::seconds(seconds);
    auto next = Clock::now() + looked_after_every;
    for (;;) {
        auto const now = Clock::now();
        if (seconds > 0 && now >= end) return;
        if (now >= next) {
            server.look_after();
            next = now + looked_after_every;
        }
        auto const until = seconds > 0 ? std::min(end, next) : next;
        auto const left = std::chrono::duration_cast<std::chrono::nanoseconds>(until - now);
        timespec const span{left.count() / 1'000'000'000, left.count() % 1'000'000'000};
        // A wait that is over, or a process that was stopped and goes on, is no interrupt.
        if (sigtimedwait(&interrupts, nullptr, &span) >= 0) return;
        if (errno != EAGAIN && errno != EINTR) return;
    }
}

/// Writes a line to standard output. A pipe that nobody reads, or a terminal that is stopped, must not keep
/// the workbench from its work: a line that cannot be written at once is left out.
void announce(std::string_view line)
{
    pollfd out{STDOUT_FILENO, POLLOUT, 0};
    if (::poll(&out, 1, 0) != 1) return;
    std::string const shown = readable(line);
    std::fwrite(shown.data(), 1, shown.size(), stdout);
    std::fflush(stdout);
}

Result<int> run_serve(Arguments const& arguments, World& world)
{
    web::ServerSettings settings;
    settings.desk.actor = actor_of(arguments, world);
    // Progress is drawn in the page, not on the terminal.
    settings.desk.actor.progress = nullptr;
    settings.desk.job_path = path_in(world, arguments.text("JOB"));
    settings.desk.package_folder = arguments.has("--package") ? path_in(world, arguments.text("--package"))
                                                              : settings.desk.job_path + "-package";
    if (arguments.has("--watch")) {
        settings.desk.watch_folder = path_in(world, arguments.text("--watch"));
        if (std::error_code none; !std::filesystem::is_directory(settings.desk.watch_folder, none))
            return Error{
                Errc::not_found,
                fmt::format(
                    "--watch {}: this is not a folder; name the folder that the instrument exports to",
                    arguments.text("--watch"))};
    }
    settings.listen = arguments.text("--listen");
    TRY_ASSIGN(settings.port, arguments.integer("--port"));
    if (settings.port < 0 || settings.port > 65535)
        return Error{Errc::usage, fmt::format("--port {}: write a port from 0 to 65535", settings.port)};
    int seconds = 0;
    if (arguments.has("--for")) {
        TRY_ASSIGN(seconds, arguments.integer("--for"));
        if (seconds < 1) return Error{Errc::usage, fmt::format("--for {}: write at least 1 second", seconds)};
    }
    settings.tls = arguments.has("--tls");
    if (arguments.has("--tls-cert") != arguments.has("--tls-key"))
        return Error{Errc::usage, "--tls-cert and --tls-key go together: the certificate and its key, PEM"};
    if (arguments.has("--tls-cert")) {
        settings.certificate = path_in(world, arguments.text("--tls-cert"));
        settings.private_key = path_in(world, arguments.text("--tls-key"));
        TRY(job::require_file(settings.certificate));
        TRY(job::require_file(settings.private_key));
    }
    auto const slash = settings.desk.actor.key_path.find_last_of('/');
    settings.own_folder = slash == std::string::npos ? "." : settings.desk.actor.key_path.substr(0, slash);

    settings.terminal = world.terminal;
    // The threads of the workbench call this once everything in world.out has been written.
    settings.announce = announce;

    settings.desk.announce = settings.announce;

    // An interrupt ends the workbench as a person would: what is being written is finished first.
    sigset_t interrupts;
    sigemptyset(&interrupts);
    sigaddset(&interrupts, SIGINT);
    sigaddset(&interrupts, SIGTERM);
    sigaddset(&interrupts, SIGUSR1);
    pthread_sigmask(SIG_BLOCK, &interrupts, nullptr);
    std::signal(SIGPIPE, SIG_IGN); // a browser that goes away is no reason to end

    TRY_ASSIGN(auto const server, web::Server::open(std::move(settings)));
    world.out += fmt::format("Workbench of {} at {}\n", arguments.text("JOB"), server->one_time_address());
    world.out += server->greeting();
    world.out += "Press Ctrl-C to stop it.\n";
    if (world.flush) world.flush(world);
    std::thread waiting([&] {
        wait_for_end(interrupts, seconds, *server);
        server->stop();
    });
    auto const ended = server->run();
    pthread_kill(waiting.native_handle(), SIGUSR1);
    waiting.join();
    TRY(ended);
    return 0;
}

constexpr std::array serve_options{
    job_option,
    Option{"--port", "N", "the port; 0 takes any free one", false, false, "8350"},
    Option{"--listen", "ADDRESS",
           "where to listen; any address but loopback needs pairing and always uses TLS", false, false,
           "127.0.0.1"},
    Option{"--tls", "", "use TLS on loopback too"},
    Option{"--tls-cert", "FILE", "your certificate (PEM) instead of one created on first use"},
    Option{"--tls-key", "FILE", "the certificate's private key (PEM)"},
    Option{"--watch", "DIR",
           "the folder that an instrument exports to; the workbench offers its files but never imports them "
           "by itself"},
    Option{"--package", "DIR", "the folder for the package (default: JOB-package)"},
    Option{"--for", "SECONDS", "stop after this time (default: run until interrupted)"},
    operator_option,
    key_option,
};

} // namespace

Command const serve_command{
    "serve",
    "Open the job in a browser",
    "Starts the workbench: today, links, findings, references, files, site map, set-up, hand-over, kit and "
    "people. It works without a network, and only this machine can reach it unless you give --listen. It "
    "prints an address that opens it once on this machine, and the name of the file with the next address; "
    "other devices join with a code that it prints here.",
    "serve hall.guidepin",
    serve_options,
    &run_serve,
    false};

} // namespace guidepin::cli
