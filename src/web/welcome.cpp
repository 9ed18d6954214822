// SPDX-License-Identifier: Apache-2.0
#include "web/welcome.hpp"

#include "base/text.hpp"
#include "report/qr.hpp"
#include "web/own_addresses.hpp"
#include "web/session.hpp"

#include <algorithm>

#include <fmt/format.h>

namespace guidepin::web {

Welcome::Welcome(WelcomeSettings settings)
    : settings_(std::move(settings))
    , reach_(std::make_shared<Reach>())
{
}

Result<std::unique_ptr<Welcome>> Welcome::open(WelcomeSettings settings)
{
    std::unique_ptr<Welcome> welcome(new Welcome(std::move(settings)));
    if (welcome->settings_.tls) {
        TRY_ASSIGN(welcome->renewed_at_start_, welcome->read_certificate());
    }
    return welcome;
}

Result<bool> Welcome::read_certificate()
{
    bool renewed = false;
    auto next = std::make_shared<Reach>(*reach());
    if (settings_.certificate.empty()) {
        bool const network = !is_loopback(settings_.listen);
        std::vector<std::string> names =
            network ? reachable_addresses(settings_.listen) : std::vector<std::string>{};
        if (network) {
            auto const hosts = own_host_names();
            names.insert(names.end(), hosts.begin(), hosts.end());
        }
        TRY_ASSIGN(auto const own, own_certificate(settings_.own_folder, names, settings_.clock->now_ms()));
        next->fingerprint = own.fingerprint;
        next->changes = own.changes;
        renewed = own.renewed;
        if (next->fingerprint != reach()->fingerprint) TRY(settings_.use_certificate(own.path, own.path));
    } else {
        TRY_ASSIGN(next->fingerprint, certificate_fingerprint(settings_.certificate));
        if (next->fingerprint != reach()->fingerprint)
            TRY(settings_.use_certificate(settings_.certificate, settings_.private_key));
    }
    next->addresses = addresses_of_others();
    std::lock_guard const guard(lock_);
    reach_ = std::move(next);
    return renewed;
}

std::string Welcome::own_host() const
{
    if (settings_.listen == "localhost" || settings_.listen == "0.0.0.0") return "127.0.0.1";
    return settings_.listen == "::" ? "::1" : settings_.listen;
}

std::vector<std::string> Welcome::addresses_of_others() const
{
    std::vector<std::string> list;
    if (port_ == 0 || is_loopback(settings_.listen)) return list;
    for (std::string const& one : reachable_addresses(settings_.listen))
        list.push_back(address_of(settings_.tls, one, port_));
    return list;
}

void Welcome::listening(int port)
{
    port_ = port;
    auto next = std::make_shared<Reach>(*reach());
    next->addresses = addresses_of_others();
    // Two workbenches may have one port on two addresses of this machine; each needs a file of its own.
    std::string place = own_host() == "127.0.0.1" ? std::string{} : own_host() + "-";
    std::replace(place.begin(), place.end(), ':', '.');
    key_ = std::make_unique<LocalKey>(
        address_of(settings_.tls, own_host(), port),
        fmt::format("{}/workbench-{}{}.address", settings_.own_folder, place, port));
    std::lock_guard const guard(lock_);
    reach_ = std::move(next);
}

std::shared_ptr<Reach const> Welcome::reach() const
{
    std::lock_guard const guard(lock_);
    return reach_;
}

bool Welcome::use_key(std::string const& key)
{
    if (!key_ || !key_->use(key)) return false;
    // A log is read by others: there the next address is only in its file, unless that could not be written.
    if (settings_.terminal || !key_->trouble().empty())
        announce(
            fmt::format("The one-time address was opened. The next one: {}\n", key_->one_time_address()));
    return true;
}

std::string Welcome::one_time_address() const
{
    return key_ ? key_->one_time_address() : std::string{};
}

std::string Welcome::greeting(std::string_view code, std::string_view person) const
{
    std::string text = "This address opens the workbench once, on this machine, as a lead. ";
    if (key_ && key_->trouble().empty())
        text += fmt::format("The next one is always in {}, which only you may read.\n", key_->path());
    else if (key_)
        text +=
            fmt::format("The next one will be printed here, because its file could not be written ({}).\n",
                        key_->trouble());
    auto const at = reach();
    if (at->fingerprint.empty()) return text;
    if (renewed_at_start_) text += change_told(*at, at->changes.back().before);
    text += "Certificate, SHA-256 (the first two lines are enough to compare by voice):\n";
    for (std::string const& line : fingerprint_lines(at->fingerprint)) text += fmt::format("    {}\n", line);
    if (at->addresses.empty() || code.empty()) return text;
    text += fmt::format("Other devices open {}\n", joined(at->addresses, " or "));
    text += fmt::format("Pair the first device with the code {} (good once, for ten minutes, for {}). Before "
                        "the code is typed, its browser has to show the fingerprint above.\n",
                        in_fours(code), person);
    std::string const scanned = pairing_text(at->addresses.front(), code, at->fingerprint);
    if (settings_.terminal) {
        if (auto const drawn = report::qr_half_blocks(scanned)) text += *drawn;
    }
    return text;
}

bool Welcome::look_after()
{
    if (!settings_.tls) return false;
    auto const before = reach();
    // What cannot be read or written now may be later; the present certificate stays in use.
    if (auto const outcome = read_certificate(); !outcome) return false;
    auto const after = reach();
    if (after->fingerprint == before->fingerprint) return false;
    announce(change_told(*after, before->fingerprint));
    return true;
}

std::string Welcome::change_told(Reach const& at, std::string_view before) const
{
    std::string why = "its file was exchanged";
    if (!at.changes.empty() && at.changes.back().after == at.fingerprint) why = at.changes.back().why;
    std::string const old = before.empty() ? "could not be read" : joined(fingerprint_lines(before), " ");
    return fmt::format("The certificate is a new one: of the old one, {}. Devices that knew the old one have "
                       "to accept it.\n  old: {}\n  new: {}\n",
                       why, old, joined(fingerprint_lines(at.fingerprint), " "));
}

void Welcome::announce(std::string_view line) const
{
    if (settings_.announce) settings_.announce(line);
}

} // namespace guidepin::web
