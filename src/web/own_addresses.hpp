// SPDX-License-Identifier: Apache-2.0
// The addresses and names of this machine.
// Verified by: tests/unit/web/own_addresses.cpp.
#pragma once

#include <string>
#include <vector>

namespace guidepin::web {

/// 127.0.0.0/8, ::1 and their like.
bool is_loopback(std::string const& address);

/// Whether this is an address of this machine, loopback among them: who asks from there sits on it, or comes
/// through a tunnel or proxy that ends on it. The two look the same from here.
bool is_own_address(std::string const& address);

/// Where other devices find a workbench that listens on `listen`: that address, or all own addresses when it
/// is 0.0.0.0 or "::". Without loopback, link-local addresses and those that IPv6 makes for a day.
std::vector<std::string> reachable_addresses(std::string const& listen);

/// The machine's own name as a browser may type it: "hall" and "hall.local".
std::vector<std::string> own_host_names();

/// Letters, digits, "-" and "." alone.
bool is_host_name(std::string const& name);

} // namespace guidepin::web
