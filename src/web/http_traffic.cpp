// SPDX-License-Identifier: Apache-2.0
// One connection: its requests come in, workers answer them, the answers go out.
#include "web/http_loop.hpp"

namespace guidepin::web {

Answer engine::busy(char const* words, int retry_after_s)
{
    return refusal_answer(503, words, retry_after_s);
}

void Engine::Loop::wait(Held const& held, tcp::socket::wait_type what)
{
    held->socket.async_wait(what, [this, held](Failure failure) {
        if (held->closed) return;
        if (failure) return close(held);
        go_on(held);
    });
}

bool Engine::Loop::pauses(Held const& held, Flow flow)
{
    if (flow == Flow::some) return false;
    if (flow == Flow::ended)
        close(held);
    else
        wait(held, flow == Flow::want_read ? tcp::socket::wait_read : tcp::socket::wait_write);
    return true;
}

void Engine::Loop::go_on(Held const& held)
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
        return read_stream(held);
    case Phase::working:
        return;
    }
}

std::size_t Engine::Loop::room_of(Connection const& connection) const
{
    if (connection.phase == Phase::body) return connection.head.body_length - connection.body.size();
    if (connection.phase == Phase::parting) return read_at_once;
    std::size_t const most = limits.request.request_line + limits.request.head + 16;
    return most - std::min(most, connection.in.size());
}

void Engine::Loop::read(Held const& held)
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

bool Engine::Loop::throw_away(Held const& held, std::size_t bytes)
{
    held->thrown_away += bytes;
    std::size_t const most = held->known ? 2 * limits.request.body : 256U << 10U;
    if (held->thrown_away <= most) return true;
    close(held);
    return false;
}

void Engine::Loop::understand_head(Held const& held)
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

void Engine::Loop::refuse(Held const& held, Refusal const& refusal)
{
    send(held, refusal_answer(refusal.status, refusal.words));
}

void Engine::Loop::judge(Held const& held)
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

void Engine::Loop::set_to_work(Held const& held, bool without_body)
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

bool Engine::Loop::is_busy() const
{
    return connections.size() > limits.connections / 4;
}

void Engine::Loop::send(Held const& held, Answer answer)
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

void Engine::Loop::write(Held const& held)
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
    auto const idle = !connection.known ? limits.idle_stranger : is_busy() ? limits.idle_busy : limits.idle;
    connection.deadline = SteadyClock::now() + idle;
    // A next request that came along with the last one is taken in its turn.
    asio::post(io, [this, held] {
        if (held->closed) return;
        if (held->in.empty()) return read(held);
        understand_head(held);
        if (!held->closed && held->phase == Phase::head) read(held);
    });
}

void Engine::Loop::part(Held const& held)
{
    held->wire.say_goodbye();
    Failure failure;
    held->socket.shutdown(tcp::socket::shutdown_send, failure);
    if (failure || ending) return close(held);
    held->phase = Phase::parting;
    held->deadline = SteadyClock::now() + (held->known ? milliseconds(3'000) : milliseconds(1'000));
    wait(held, tcp::socket::wait_read);
}

} // namespace guidepin::web
