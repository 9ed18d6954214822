// SPDX-License-Identifier: Apache-2.0
// Open pages that follow changes: each gets an event when something was written.
#include "web/http_loop.hpp"

namespace guidepin::web {

void Engine::Loop::begin_stream(Held const& held, StreamAsked asked)
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
    send_change(held);
    if (!held->closed) wait_for_end(held);
}

void Engine::Loop::wait_for_end(Held const& held)
{
    held->socket.async_wait(tcp::socket::wait_read, [this, held](Failure failure) {
        if (held->closed) return;
        if (failure) return close(held);
        read_stream(held);
    });
}

void Engine::Loop::read_stream(Held const& held)
{
    std::array<char, 256> ignored;
    Moved const moved = held->wire.receive(ignored.data(), ignored.size());
    if (moved.flow == Flow::ended || moved.flow == Flow::some) return close(held);
    wait_for_end(held);
}

void Engine::Loop::send_change(Held const& held)
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
            send_change(held);
        });
        return;
    }
}

void Engine::Loop::look_at_streams(SteadyClock::time_point now)
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
            send_change(held);
        }
    }
}

void Engine::Loop::send_change_to_all(std::uint64_t number)
{
    changes = number;
    std::vector<Held> open;
    for (Held const& held : connections) {
        if (held->stream) open.push_back(held);
    }
    for (Held const& held : open) {
        if (!held->closed) send_change(held);
    }
}

} // namespace guidepin::web
