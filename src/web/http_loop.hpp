// SPDX-License-Identifier: Apache-2.0
// The engine's event loop: every connection and what it may do next. One thread runs it; workers make the
// answers.
#pragma once

#include "web/http_engine.hpp"
#include "web/http_wire.hpp"

#include <boost/asio/io_context.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/post.hpp>
#include <boost/asio/steady_timer.hpp>

#include <algorithm>
#include <array>
#include <atomic>
#include <list>
#include <map>
#include <mutex>
#include <thread>

#include <fmt/format.h>

namespace guidepin::web {

// The types have a namespace of their own because Engine::Loop, which is not local to one file, is made of
// them.
namespace engine {

namespace asio = boost::asio;
using asio::ip::tcp;
using Failure = boost::system::error_code;
using SteadyClock = std::chrono::steady_clock;
using std::chrono::milliseconds;

constexpr milliseconds look_every{100};      ///< at deadlines
constexpr std::size_t read_at_once = 16'384; ///< bytes
constexpr int reads_in_a_turn = 8;           ///< then other connections have their turn
constexpr std::size_t heavy_from = 4'096;    ///< bytes of a head
constexpr std::size_t joined_up_to = 16'384; ///< a body that goes out in one piece with its head
constexpr std::size_t files_kept_free = 128; ///< for the job, the package, the assets of the machine
constexpr milliseconds last_words{3'000};    ///< for answers that are on their way when the workbench ends

enum class Phase {
    first,     ///< connected, TLS is to begin and nothing has come yet
    handshake, ///< TLS has begun
    head,      ///< a first or further request is awaited or half there
    body,
    working, ///< a worker has the request, or the request waits for one
    writing,
    stream,
    parting, ///< the answer is sent; further bytes are discarded
};

/// Bodies in flight, given back when the last who holds this is done.
class Reserved
{
  public:
    Reserved(std::atomic<std::size_t>& total, std::size_t bytes)
        : total_(total)
        , bytes_(bytes)
    {
        total_ += bytes_;
    }
    ~Reserved() { total_ -= bytes_; }
    Reserved(Reserved const&) = delete;
    Reserved& operator=(Reserved const&) = delete;

  private:
    std::atomic<std::size_t>& total_;
    std::size_t bytes_;
};

struct Stream
{
    std::string session;
    std::uint64_t seen = 0;
    SteadyClock::time_point next_sign;
    bool writing = false;
};

struct Connection
{
    explicit Connection(tcp::socket accepted)
        : socket(std::move(accepted))
        , wire(socket.native_handle())
    {
    }

    tcp::socket socket;
    Wire wire;
    std::string peer, group;
    bool local = false, closed = false, known = false, heavy = false;
    Phase phase = Phase::head;
    SteadyClock::time_point came, deadline, latest; ///< latest: when an answer must have been read
    std::string in;                                 ///< bytes that came and are not parsed yet
    std::size_t scanned = 0;
    bool begun = false; ///< a byte of this request is there
    Head head;
    std::string body;
    std::shared_ptr<Reserved> reserved;
    std::string out;
    std::shared_ptr<std::string const> out_body;
    std::size_t out_done = 0;
    bool close_after = false, head_only = false;
    std::size_t thrown_away = 0;
    std::optional<Stream> stream;
    std::list<std::shared_ptr<Connection>>::iterator place;
};
using Held = std::shared_ptr<Connection>;

struct Group
{
    std::size_t all = 0, strangers = 0, streams = 0;
};

Answer busy(char const* words, int retry_after_s);

} // namespace engine

using namespace engine;

struct Engine::Loop
{
    EngineLimits limits;
    asio::io_context io{1};
    tcp::acceptor acceptor{io};
    asio::steady_timer timer{io}, again{io};
    std::mutex keys_lock;
    TlsKeys keys;
    std::atomic<bool> ending{false};
    std::atomic<std::size_t> bodies{0};
    bool workers_done = false;
    std::list<Held> connections; ///< oldest first
    std::map<std::string, Group> groups;
    std::size_t strangers = 0, local_strangers = 0, heavy = 0, streams = 0;
    std::uint64_t changes = 0;
    int ticks = 0;
    Application* application = nullptr;
    std::unique_ptr<Work> work;
    std::thread notifier, ender;

    // who is connected: http_connections.cpp
    void accept();
    void take(tcp::socket socket);
    TlsKeys current_keys();
    void count_stranger(Connection& connection, bool more);
    void set_known(Connection& connection, bool known);
    void set_heavy(Connection& connection, bool is_heavy);
    /// The address with most strangers, or with most connections of any kind.
    std::string most_crowded(bool of_any_kind) const;
    /// Closes the oldest connection that no worker has. `known_too`: also one of a person with a session,
    /// but only between two requests.
    bool close_oldest_of(std::string const& group, bool known_too, Connection const* but);
    void make_room(Connection const* but = nullptr);
    void close(Held const& held);

    // requests come in: http_traffic.cpp
    void wait(Held const& held, tcp::socket::wait_type what);
    /// True if nothing more can be done now: the other side ended, or the socket is not ready.
    bool pauses(Held const& held, Flow flow);
    void go_on(Held const& held);
    /// Room for further bytes of the phase it is in.
    std::size_t room_of(Connection const& connection) const;
    void read(Held const& held);
    bool throw_away(Held const& held, std::size_t bytes);
    void understand_head(Held const& held);
    void refuse(Held const& held, Refusal const& refusal);
    void judge(Held const& held);

    // workers: http_traffic.cpp
    void set_to_work(Held const& held, bool without_body = false);

    // answers go out: http_traffic.cpp
    bool is_busy() const;
    void send(Held const& held, Answer answer);
    void write(Held const& held);
    /// Ends our side and throws away what still comes for a moment: closing at once would take the answer
    /// back from who is still sending.
    void part(Held const& held);

    // open pages that follow changes: http_streams.cpp
    void begin_stream(Held const& held, StreamAsked asked);
    /// A stream only waits for its end: it reads no requests.
    void wait_for_end(Held const& held);
    void read_stream(Held const& held);
    void send_change(Held const& held);
    void look_at_streams(SteadyClock::time_point now);
    void send_change_to_all(std::uint64_t number);

    // time: http_engine.cpp
    void tick();

    // start and end: http_engine.cpp
    void watch_changes();
    void begin_end();
    void end_when_empty();
};

} // namespace guidepin::web
