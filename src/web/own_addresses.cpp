// SPDX-License-Identifier: Apache-2.0
#include "web/own_addresses.hpp"

#include "base/text.hpp"

#include <algorithm>
#include <cctype>
#include <cstdint>
#include <cstdlib>
#include <fstream>
#include <set>
#include <sstream>

#include <arpa/inet.h>
#include <ifaddrs.h>
#include <net/if.h>
#include <netinet/in.h>
#include <unistd.h>

namespace guidepin::web {

namespace {

/// IPv6 addresses that are made for a day, so that a machine is not known again by its address: nobody is
/// sent there, and a certificate with them would change each day.
std::set<std::string> passing_addresses()
{
    constexpr unsigned temporary = 0x01, deprecated = 0x20; // IFA_F_TEMPORARY, IFA_F_DEPRECATED
    std::set<std::string> list;
    std::ifstream file("/proc/net/if_inet6");
    for (std::string line; std::getline(file, line);) {
        std::istringstream words(line);
        std::string digits, index, prefix, scope;
        unsigned flags = 0;
        if (!(words >> digits >> index >> prefix >> scope >> std::hex >> flags) || digits.size() != 32)
            continue;
        if ((flags & (temporary | deprecated)) == 0) continue;
        in6_addr address{};
        for (std::size_t i = 0; i < 16; ++i)
            address.s6_addr[i] =
                static_cast<std::uint8_t>(std::strtoul(digits.substr(2 * i, 2).c_str(), nullptr, 16));
        char text[INET6_ADDRSTRLEN] = {};
        if (::inet_ntop(AF_INET6, &address, text, sizeof text)) list.insert(text);
    }
    return list;
}

/// The address in numbers, without the zone of a link-local one; empty for other families.
std::string text_of(sockaddr const* address)
{
    char text[INET6_ADDRSTRLEN] = {};
    if (address->sa_family == AF_INET)
        ::inet_ntop(AF_INET, &reinterpret_cast<sockaddr_in const*>(address)->sin_addr, text, sizeof text);
    else if (address->sa_family == AF_INET6)
        ::inet_ntop(AF_INET6, &reinterpret_cast<sockaddr_in6 const*>(address)->sin6_addr, text, sizeof text);
    return text;
}

/// Calls `work` with each address of an interface that is up.
template <class Work>
void each_address(Work const& work)
{
    ifaddrs* all = nullptr;
    if (::getifaddrs(&all) != 0) return;
    for (ifaddrs const* one = all; one; one = one->ifa_next) {
        if (!one->ifa_addr || (one->ifa_flags & IFF_UP) == 0) continue;
        if (std::string const text = text_of(one->ifa_addr); !text.empty())
            work(text, one->ifa_addr->sa_family == AF_INET6);
    }
    ::freeifaddrs(all);
}

std::string without_mapping(std::string const& address)
{
    return address.starts_with("::ffff:") && address.find('.') != std::string::npos ? address.substr(7)
                                                                                    : address;
}

bool is_link_local(std::string const& address)
{
    in6_addr bytes{};
    return ::inet_pton(AF_INET6, address.c_str(), &bytes) == 1 && IN6_IS_ADDR_LINKLOCAL(&bytes);
}

} // namespace

bool is_loopback(std::string const& address)
{
    std::string const plain = without_mapping(address);
    return plain.starts_with("127.") || plain == "::1" || plain == "localhost";
}

bool is_own_address(std::string const& address)
{
    if (is_loopback(address)) return true;
    std::string const plain = without_mapping(address.substr(0, address.find('%')));
    bool own = false;
    each_address([&](std::string const& one, bool) { own = own || one == plain; });
    return own;
}

std::vector<std::string> reachable_addresses(std::string const& listen)
{
    if (listen != "0.0.0.0" && listen != "::") return {listen};
    auto const passing = passing_addresses();
    std::vector<std::string> list, six;
    each_address([&](std::string const& one, bool is_six) {
        if (is_loopback(one) || is_link_local(one) || passing.contains(one) || (is_six && listen != "::"))
            return;
        auto& into = is_six ? six : list;
        if (std::find(into.begin(), into.end(), one) == into.end()) into.push_back(one);
    });
    // The shorter ones first: the first one goes into the QR code and is the one that people type.
    list.insert(list.end(), six.begin(), six.end());
    return list;
}

std::vector<std::string> own_host_names()
{
    char name[256] = {};
    if (::gethostname(name, sizeof name - 1) != 0) return {};
    std::string const own = lowered(name);
    if (!is_host_name(own) || own == "localhost") return {};
    return {own, own + ".local"};
}

bool is_host_name(std::string const& name)
{
    return !name.empty() && name.size() <= 253 &&
           std::all_of(name.begin(), name.end(), [](unsigned char letter) {
               return std::isalnum(letter) || letter == '-' || letter == '.';
           });
}

} // namespace guidepin::web
