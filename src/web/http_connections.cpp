// SPDX-License-Identifier: Apache-2.0
// Who is connected: accepting, counting by address, and closing the oldest when there are too many.
#include "web/http_loop.hpp"

namespace guidepin::web {

namespace {

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

} // namespace

void Engine::Loop::accept()
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

void Engine::Loop::take(tcp::socket socket)
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
    std::size_t const own_limit = connection.local ? limits.local_strangers : limits.strangers_per_address;
    if (group.strangers > own_limit) close_oldest_of(connection.group, false, &connection);
    if (strangers > limits.strangers) close_oldest_of(most_crowded(false), false, &connection);
    if (connections.size() > limits.connections) make_room(&connection);
    wait(held, tcp::socket::wait_read);
}

TlsKeys Engine::Loop::current_keys()
{
    std::lock_guard const guard(keys_lock);
    return keys;
}

void Engine::Loop::count_stranger(Connection& connection, bool more)
{
    std::size_t& all = connection.local ? local_strangers : strangers;
    std::size_t& own = groups[connection.group].strangers;
    all += more ? 1 : std::size_t(-1);
    own += more ? 1 : std::size_t(-1);
}

void Engine::Loop::set_known(Connection& connection, bool known)
{
    if (connection.known == known) return;
    connection.known = known;
    count_stranger(connection, !known);
    if (known && connection.heavy) set_heavy(connection, false);
}

void Engine::Loop::set_heavy(Connection& connection, bool is_heavy)
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

std::string Engine::Loop::most_crowded(bool of_any_kind) const
{
    auto const count = [&](auto const& entry) {
        return of_any_kind ? entry.second.all : entry.second.strangers;
    };
    auto const most = std::max_element(groups.begin(), groups.end(),
                                       [&](auto const& a, auto const& b) { return count(a) < count(b); });
    return most == groups.end() || count(*most) == 0 ? std::string{} : most->first;
}

bool Engine::Loop::close_oldest_of(std::string const& group, bool known_too, Connection const* but)
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

void Engine::Loop::make_room(Connection const* but)
{
    if (close_oldest_of(most_crowded(false), false, but)) return;
    if (close_oldest_of(most_crowded(true), true, but)) return;
    if (but != nullptr) close(Held(*but->place));
}

void Engine::Loop::close(Held const& held)
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

} // namespace guidepin::web
