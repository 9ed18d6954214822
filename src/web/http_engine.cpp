// SPDX-License-Identifier: Apache-2.0
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

#include <csignal>
#include <fmt/format.h>
#include <netinet/in.h>
#include <pthread.h>
#include <sys/resource.h>

namespace guidepin::web {

// Not without a name: Engine::Inside is made of these types.
namespace engine {

namespace asio = boost::asio;
using asio::ip::tcp;
using Failure = boost::system::error_code;
using SteadyClock = std::chrono::steady_clock;
using std::chrono::milliseconds;

constexpr milliseconds look_every{100};      ///< at deadlines
constexpr std::size_t read_at_once = 16'384; ///< bytes
constexpr int reads_in_a_turn = 8;           ///< then others have theirs
constexpr std::size_t heavy_from = 4'096;    ///< bytes of a head
constexpr std::size_t joined_up_to = 16'384; ///< a body that goes out in one piece with its head
constexpr std::size_t files_kept_free = 128; ///< for the job, the package, the assets of the machine
constexpr milliseconds last_words{3'000};    ///< for answers that are on their way when the workbench ends

enum class Phase {
    first,     ///< connected, TLS is to begin and nothing has come yet
    handshake, ///< TLS has begun
    head,      ///< a first or further request is awaited or half there
    body,
    working, ///< a worker has it, or it waits for one
    writing,
    stream,
    parting, ///< all is said; what still comes is thrown away
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
    SteadyClock::time_point came, deadline, latest; ///< latest: by which an answer has to be read
    std::string in;                                 ///< what came and is not understood yet
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

/// The address a person has: of an IPv6 network (/64) all are one.
std::string group_of(asio::ip::address const& address)
{
    if (!address.is_v6()) return address.to_string();
    auto bytes = address.to_v6().to_bytes();
    std::fill(bytes.begin() + 8, bytes.end(), static_cast<unsigned char>(0));
    return asio::ip::address_v6(bytes).to_string();
}

asio::ip::address plain(asio::ip::address const& address)
{
    if (address.is_v6() && address.to_v6().is_v4_mapped())
        return asio::ip::make_address_v4(asio::ip::v4_mapped, address.to_v6());
    return address;
}

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

Answer busy(char const* words, int retry_after_s)
{
    return refusal_answer(503, words, retry_after_s);
}

} // namespace engine

using namespace engine;

struct Engine::Inside
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

    // ---- who is connected ----

    void accept()
    {
        acceptor.async_accept([this](Failure failure, tcp::socket socket) {
            if (!acceptor.is_open()) return;
            if (!failure) {
                take(std::move(socket));
                return accept();
            }
            // No file is left, say: make room and try again a little later.
            make_room();
            again.expires_after(milliseconds(20));
            again.async_wait([this](Failure stopped) {
                if (!stopped && acceptor.is_open()) accept();
            });
        });
    }

    void take(tcp::socket socket)
    {
        Failure failure;
        auto const end = socket.remote_endpoint(failure);
        if (!failure) socket.non_blocking(true, failure);
        if (failure) return;
        socket.set_option(tcp::no_delay(true), failure);
        auto const held = std::make_shared<Connection>(std::move(socket));
        Connection& connection = *held;
        auto const address = plain(end.address());
        connection.peer = address.to_string();
        connection.group = group_of(address);
        connection.local = address.is_loopback();
        connection.came = SteadyClock::now();
        connection.place = connections.insert(connections.end(), held);
        Group& group = groups[connection.group];
        ++group.all;
        count_stranger(connection, true);
        bool const tls = current_keys() != nullptr;
        connection.phase = tls ? Phase::first : Phase::head;
        connection.deadline = connection.came + (tls ? limits.handshake : limits.head);
        std::size_t const own_limit =
            connection.local ? limits.local_strangers : limits.strangers_per_address;
        if (group.strangers > own_limit) close_oldest_of(connection.group, false, &connection);
        if (strangers > limits.strangers) close_oldest_of(most_crowded(false), false, &connection);
        if (connections.size() > limits.connections) make_room(&connection);
        wait(held, tcp::socket::wait_read);
    }

    TlsKeys current_keys()
    {
        std::lock_guard const guard(keys_lock);
        return keys;
    }

    void count_stranger(Connection& connection, bool more)
    {
        std::size_t& all = connection.local ? local_strangers : strangers;
        std::size_t& own = groups[connection.group].strangers;
        all += more ? 1 : std::size_t(-1);
        own += more ? 1 : std::size_t(-1);
    }

    void set_known(Connection& connection, bool known)
    {
        if (connection.known == known) return;
        connection.known = known;
        count_stranger(connection, !known);
        if (known && connection.heavy) set_heavy(connection, false);
    }

    void set_heavy(Connection& connection, bool is_heavy)
    {
        if (connection.heavy == is_heavy || (is_heavy && connection.known)) return;
        connection.heavy = is_heavy;
        heavy += is_heavy ? 1 : std::size_t(-1);
        if (heavy <= limits.heavy_strangers) return;
        for (Held const& other : connections) {
            if (!other->heavy || other.get() == &connection || other->phase == Phase::working) continue;
            return close(Held(other));
        }
    }

    /// The address with most strangers, or with most connections of any kind.
    std::string most_crowded(bool of_any_kind) const
    {
        auto const count = [&](auto const& entry) {
            return of_any_kind ? entry.second.all : entry.second.strangers;
        };
        auto const most = std::max_element(groups.begin(), groups.end(),
                                           [&](auto const& a, auto const& b) { return count(a) < count(b); });
        return most == groups.end() || count(*most) == 0 ? std::string{} : most->first;
    }

    /// The one that came first among those that nobody works for. `known_too`: also of people with a session,
    /// but only between two requests.
    bool close_oldest_of(std::string const& group, bool known_too, Connection const* but)
    {
        for (Held const& other : connections) {
            if (other->group != group || other.get() == but || other->phase == Phase::working) continue;
            bool const between = other->phase == Phase::head && !other->begun;
            if (other->known && !(known_too && between)) continue;
            close(Held(other));
            return true;
        }
        return false;
    }

    void make_room(Connection const* but = nullptr)
    {
        if (close_oldest_of(most_crowded(false), false, but)) return;
        if (close_oldest_of(most_crowded(true), true, but)) return;
        if (but != nullptr) close(Held(*but->place));
    }

    void close(Held const& held)
    {
        Connection& connection = *held;
        if (connection.closed) return;
        connection.closed = true;
        if (connection.stream) {
            --streams;
            --groups[connection.group].streams;
        }
        if (connection.heavy) set_heavy(connection, false);
        if (!connection.known) count_stranger(connection, false);
        if (--groups[connection.group].all == 0) groups.erase(connection.group);
        connections.erase(connection.place);
        connection.reserved = nullptr;
        Failure ignored;
        connection.socket.close(ignored);
        end_when_empty();
    }

    // ---- what comes ----

    void wait(Held const& held, tcp::socket::wait_type what)
    {
        held->socket.async_wait(what, [this, held](Failure failure) {
            if (held->closed) return;
            if (failure) return close(held);
            go_on(held);
        });
    }

    /// The other side ended, or the socket is not ready: true when nothing more is to be done now.
    bool pauses(Held const& held, Flow flow)
    {
        if (flow == Flow::some) return false;
        if (flow == Flow::ended)
            close(held);
        else
            wait(held, flow == Flow::want_read ? tcp::socket::wait_read : tcp::socket::wait_write);
        return true;
    }

    void go_on(Held const& held)
    {
        switch (held->phase) {
        case Phase::first:
            if (!held->wire.begin_tls(current_keys())) return close(held);
            held->phase = Phase::handshake;
            set_heavy(*held, true);
            [[fallthrough]];
        case Phase::handshake:
            if (pauses(held, held->wire.shake_hands())) return;
            held->phase = Phase::head;
            held->deadline = SteadyClock::now() + limits.head;
            return read(held);
        case Phase::head:
        case Phase::body:
        case Phase::parting:
            return read(held);
        case Phase::writing:
            return write(held);
        case Phase::stream:
            return hear_stream(held);
        case Phase::working:
            return;
        }
    }

    /// Room for further bytes of the phase it is in.
    std::size_t room_of(Connection const& connection) const
    {
        if (connection.phase == Phase::body) return connection.head.body_length - connection.body.size();
        if (connection.phase == Phase::parting) return read_at_once;
        std::size_t const most = limits.request.request_line + limits.request.head + 16;
        return most - std::min(most, connection.in.size());
    }

    void read(Held const& held)
    {
        std::array<char, read_at_once> buffer;
        Phase const phase = held->phase;
        for (int turn = 0; turn < reads_in_a_turn; ++turn) {
            Moved const moved = held->wire.receive(buffer.data(), std::min(buffer.size(), room_of(*held)));
            if (pauses(held, moved.flow)) return;
            if (phase == Phase::head) {
                held->in.append(buffer.data(), moved.bytes);
                understand_head(held);
            } else if (phase == Phase::body) {
                held->body.append(buffer.data(), moved.bytes);
                if (held->body.size() == held->head.body_length) set_to_work(held);
            } else if (!throw_away(held, moved.bytes)) {
                return;
            }
            if (held->closed || held->phase != phase) return;
        }
        asio::post(io, [this, held] {
            if (!held->closed) go_on(held);
        });
    }

    bool throw_away(Held const& held, std::size_t bytes)
    {
        held->thrown_away += bytes;
        std::size_t const most = held->known ? 2 * limits.request.body : 256U << 10U;
        if (held->thrown_away <= most) return true;
        close(held);
        return false;
    }

    void understand_head(Held const& held)
    {
        Connection& connection = *held;
        if (!connection.begun) {
            connection.begun = true;
            connection.deadline = SteadyClock::now() + limits.head;
        }
        auto const length = head_length(connection.in, connection.scanned, limits.request);
        connection.scanned = connection.in.size();
        if (auto const* no = std::get_if<Refusal>(&length)) return refuse(held, *no);
        std::size_t const whole = std::get<std::size_t>(length);
        if (whole == 0) {
            if (connection.in.size() > heavy_from) set_heavy(connection, true);
            return;
        }
        auto parsed = parse_head(std::string_view(connection.in).substr(0, whole), limits.request);
        connection.in.erase(0, whole);
        connection.scanned = 0;
        if (auto const* no = std::get_if<Refusal>(&parsed)) return refuse(held, *no);
        connection.head = std::move(std::get<Head>(parsed));
        connection.head.request.peer = connection.peer;
        connection.head_only = connection.head.request.method == "HEAD";
        judge(held);
    }

    void refuse(Held const& held, Refusal const& refusal)
    {
        send(held, refusal_answer(refusal.status, refusal.words));
    }

    void judge(Held const& held)
    {
        Connection& connection = *held;
        Opinion opinion = application->look(connection.head);
        set_known(connection, opinion.known);
        std::size_t const length = connection.head.body_length;
        if (opinion.answer) {
            // Bytes of a body that nobody asked for are no next request.
            if (length > 0) opinion.answer->close = true;
            return send(held, std::move(*opinion.answer));
        }
        if (opinion.stream) return begin_stream(held, std::move(*opinion.stream));
        if (opinion.without_body || length == 0) return set_to_work(held, opinion.without_body);
        if (!opinion.known && length > limits.request.stranger_body)
            return send(held, refusal_answer(413, "This is too large for a device that is not paired."));
        if (bodies + length > limits.bodies)
            return send(held, busy("Other devices are sending much just now: try again in a moment.", 2));
        connection.reserved = std::make_shared<Reserved>(bodies, length);
        connection.body.reserve(length);
        std::size_t const there = std::min(length, connection.in.size());
        connection.body.assign(connection.in, 0, there);
        connection.in.erase(0, there);
        connection.deadline = SteadyClock::now() + limits.body + milliseconds(length / 64);
        if (connection.body.size() == length) return set_to_work(held);
        if (connection.head.asks_to_continue) {
            std::string_view const go = "HTTP/1.1 100 Continue\r\n\r\n";
            if (connection.wire.send(go.data(), go.size()).bytes != go.size()) return close(held);
        }
        connection.phase = Phase::body;
        // The caller goes on reading only where the phase is as it was.
        asio::post(io, [this, held] {
            if (!held->closed) go_on(held);
        });
    }

    // ---- work ----

    void set_to_work(Held const& held, bool without_body = false)
    {
        Connection& connection = *held;
        connection.phase = Phase::working;
        connection.deadline = SteadyClock::time_point::max();
        if (without_body) connection.close_after = true;
        auto const request = std::make_shared<Request>(std::move(connection.head.request));
        request->body = std::move(connection.body);
        connection.body = {};
        auto const task = [this, held, request, without_body, reserved = connection.reserved](bool late) {
            auto const answer =
                std::make_shared<Answer>(late ? busy("The workbench is busy: try again in a moment.", 1)
                                              : application->answer(std::move(*request), without_body));
            asio::post(io, [this, held, answer] {
                held->reserved = nullptr;
                if (!held->closed) send(held, std::move(*answer));
            });
        };
        connection.reserved = nullptr;
        if (!work->add(!connection.known, task)) {
            Answer full = busy("The workbench is busy: try again in a moment.", 1);
            full.close = without_body;
            send(held, std::move(full));
        }
    }

    // ---- what goes out ----

    bool is_busy() const { return connections.size() > limits.connections / 4; }

    void send(Held const& held, Answer answer)
    {
        Connection& connection = *held;
        bool const keep = connection.head.keep_alive && !answer.close && !connection.close_after && !ending;
        connection.close_after = !keep;
        std::string& out = connection.out;
        out = status_line(answer.status) + answer.lines;
        std::size_t const length = answer.body ? answer.body->size() : 0;
        if (answer.status != 304) out += fmt::format("Content-Length: {}\r\n", length);
        if (keep)
            // The other side is to give up first, so that no request meets a closing connection.
            out += fmt::format("Connection: keep-alive\r\nKeep-Alive: timeout={}\r\n\r\n", is_busy() ? 1 : 4);
        else
            out += "Connection: close\r\n\r\n";
        connection.out_body = connection.head_only || answer.status == 304 ? nullptr : answer.body;
        if (connection.out_body && length <= joined_up_to) {
            out += *connection.out_body;
            connection.out_body = nullptr;
        }
        connection.out_done = 0;
        connection.phase = Phase::writing;
        auto const now = SteadyClock::now();
        connection.latest = now + 2 * limits.write + milliseconds(length / 16);
        connection.deadline = now + (ending ? std::min(limits.write, last_words) : limits.write);
        write(held);
    }

    void write(Held const& held)
    {
        Connection& connection = *held;
        std::size_t const body_size = connection.out_body ? connection.out_body->size() : 0;
        std::size_t const whole = connection.out.size() + body_size;
        while (connection.out_done < whole) {
            bool const in_head = connection.out_done < connection.out.size();
            std::string const& part = in_head ? connection.out : *connection.out_body;
            std::size_t const at = connection.out_done - (in_head ? 0 : connection.out.size());
            Moved const moved = connection.wire.send(part.data() + at, part.size() - at);
            if (moved.bytes > 0) {
                connection.out_done += moved.bytes;
                connection.deadline = std::min(connection.latest, SteadyClock::now() + limits.write);
            }
            if (pauses(held, moved.flow)) return;
        }
        connection.out = {};
        connection.out_body = nullptr;
        connection.head = {};
        if (connection.close_after) return part(held);
        connection.phase = Phase::head;
        connection.begun = false;
        auto const idle = !connection.known ? limits.idle_stranger
                          : is_busy()       ? limits.idle_busy
                                            : limits.idle;
        connection.deadline = SteadyClock::now() + idle;
        // A next request that came along with the last one is taken in its turn.
        asio::post(io, [this, held] {
            if (held->closed) return;
            if (held->in.empty()) return read(held);
            understand_head(held);
            if (!held->closed && held->phase == Phase::head) read(held);
        });
    }

    /// Ends our side and throws away what still comes for a moment: closing at once would take the answer
    /// back from who is still sending.
    void part(Held const& held)
    {
        held->wire.say_goodbye();
        Failure failure;
        held->socket.shutdown(tcp::socket::shutdown_send, failure);
        if (failure || ending) return close(held);
        held->phase = Phase::parting;
        held->deadline = SteadyClock::now() + (held->known ? milliseconds(3'000) : milliseconds(1'000));
        wait(held, tcp::socket::wait_read);
    }

    // ---- streams ----

    void begin_stream(Held const& held, StreamAsked asked)
    {
        Connection& connection = *held;
        auto const of_session = std::count_if(connections.begin(), connections.end(), [&](Held const& other) {
            return other->stream && other->stream->session == asked.session;
        });
        Group& group = groups[connection.group];
        if (streams >= limits.streams || group.streams >= limits.streams_per_address ||
            static_cast<std::size_t>(of_session) >= limits.streams_per_session)
            return send(held, busy("Too many pages are open: close some.", 5));
        ++streams;
        ++group.streams;
        connection.stream.emplace();
        connection.stream->session = std::move(asked.session);
        connection.phase = Phase::stream;
        connection.deadline = SteadyClock::time_point::max();
        connection.out = status_line(200) + asked.lines + "Connection: close\r\n\r\n";
        connection.out_done = 0;
        connection.stream->next_sign = SteadyClock::now() + limits.still_here;
        tell_stream(held);
        if (!held->closed) wait_for_end(held);
    }

    /// A stream hears nothing but its end.
    void wait_for_end(Held const& held)
    {
        held->socket.async_wait(tcp::socket::wait_read, [this, held](Failure failure) {
            if (held->closed) return;
            if (failure) return close(held);
            hear_stream(held);
        });
    }

    void hear_stream(Held const& held)
    {
        std::array<char, 256> ignored;
        Moved const moved = held->wire.receive(ignored.data(), ignored.size());
        if (moved.flow == Flow::ended || moved.flow == Flow::some) return close(held);
        wait_for_end(held);
    }

    void tell_stream(Held const& held)
    {
        Connection& connection = *held;
        Stream& stream = *connection.stream;
        if (stream.writing) return; // the latest number follows when this is read
        for (;;) {
            if (connection.out_done == connection.out.size()) {
                if (stream.seen == changes) break;
                stream.seen = changes;
                connection.out = fmt::format("event: changed\ndata: {}\n\n", changes);
                connection.out_done = 0;
            }
            Moved const moved = connection.wire.send(connection.out.data() + connection.out_done,
                                                     connection.out.size() - connection.out_done);
            connection.out_done += moved.bytes;
            if (moved.flow == Flow::ended) return close(held);
            if (moved.flow == Flow::some) continue;
            stream.writing = true;
            connection.deadline = SteadyClock::now() + limits.write;
            held->socket.async_wait(tcp::socket::wait_write, [this, held](Failure failure) {
                if (held->closed) return;
                if (failure) return close(held);
                held->stream->writing = false;
                held->deadline = SteadyClock::time_point::max();
                tell_stream(held);
            });
            return;
        }
    }

    void look_at_streams(SteadyClock::time_point now)
    {
        std::vector<Held> open;
        for (Held const& held : connections) {
            if (held->stream) open.push_back(held);
        }
        for (Held const& held : open) {
            if (!application->is_open(held->stream->session)) {
                held->wire.say_goodbye();
                close(held);
            } else if (now >= held->stream->next_sign && !held->stream->writing) {
                held->stream->next_sign = now + limits.still_here;
                held->out = ": still here\n\n";
                held->out_done = 0;
                tell_stream(held);
            }
        }
    }

    void tell_all(std::uint64_t number)
    {
        changes = number;
        std::vector<Held> open;
        for (Held const& held : connections) {
            if (held->stream) open.push_back(held);
        }
        for (Held const& held : open) {
            if (!held->closed) tell_stream(held);
        }
    }

    // ---- time ----

    void tick()
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

    // ---- beginning and end ----

    void watch_changes()
    {
        std::uint64_t seen = 0;
        while (!ending) {
            std::uint64_t const now = application->wait_for_change(seen, 1'000);
            if (now == seen) continue;
            seen = now;
            asio::post(io, [this, now] { tell_all(now); });
        }
    }

    void begin_end()
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

    void end_when_empty()
    {
        if (ending && workers_done && connections.empty()) io.stop();
    }
};

Engine::Engine()
    : inside_(std::make_unique<Inside>())
{
}

Engine::~Engine() = default;

Result<std::unique_ptr<Engine>> Engine::open(std::string const& host, int port, EngineLimits limits)
{
    std::unique_ptr<Engine> engine(new Engine);
    Inside& inside = *engine->inside_;
    inside.limits = limits;
    inside.limits.connections = connections_within(limits.connections);
    Failure failure;
    tcp::resolver resolver(inside.io);
    auto const found = resolver.resolve(host, std::to_string(port),
                                        tcp::resolver::passive | tcp::resolver::numeric_service, failure);
    if (!failure && !found.empty()) {
        tcp::endpoint const end = found.begin()->endpoint();
        inside.acceptor.open(end.protocol(), failure);
        if (!failure) inside.acceptor.set_option(tcp::acceptor::reuse_address(true), failure);
        if (!failure) inside.acceptor.bind(end, failure);
        constexpr int backlog = 1'024;
        if (!failure) inside.acceptor.listen(backlog, failure);
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
    return inside_->acceptor.local_endpoint(ignored).port();
}

Outcome Engine::use_certificate(std::string const& certificate, std::string const& private_key)
{
    TRY_ASSIGN(TlsKeys keys, tls_keys(certificate, private_key));
    std::lock_guard const guard(inside_->keys_lock);
    inside_->keys = std::move(keys);
    return {};
}

void Engine::run(Application& application)
{
    Inside& inside = *inside_;
    inside.application = &application;
    inside.work = std::make_unique<Work>(inside.limits.work);
    // OpenSSL writes to sockets by write(): who went away is an error there, no reason to end the program.
    sigset_t pipe;
    sigemptyset(&pipe);
    sigaddset(&pipe, SIGPIPE);
    pthread_sigmask(SIG_BLOCK, &pipe, nullptr);
    inside.notifier = std::thread([&inside] { inside.watch_changes(); });
    inside.accept();
    inside.tick();
    for (;;) {
        try {
            inside.io.run();
            break;
        } catch (std::exception const& error) {
            // No memory for one connection, say: the others go on, and a deadline ends that one.
            std::fprintf(stderr, "guidepin: A connection failed: %s\n", error.what());
        }
    }
    inside.ending = true;
    if (inside.notifier.joinable()) inside.notifier.join();
    if (inside.ender.joinable()) inside.ender.join();
    inside.work = nullptr;
}

void Engine::stop()
{
    asio::post(inside_->io, [inside = inside_.get()] { inside->begin_end(); });
}

} // namespace guidepin::web
