// SPDX-License-Identifier: Apache-2.0
// How other devices reach this workbench and how they know that it is this one.
// Verified by: tests/unit/web/reach.cpp (the text read back from the code by another program),
// tests/web/pairing.test.mjs.
#pragma once

#include "web/own_certificate.hpp"

#include <string>
#include <string_view>
#include <vector>

namespace guidepin::web {

struct Reach
{
    std::vector<std::string> addresses; ///< "https://192.0.2.7:8350/"; none when this machine alone may ask
    std::string fingerprint;            ///< of the certificate, SHA-256: "AB:12:…"; empty without TLS
    std::vector<CertificateChange> changes;
};

/// "https://192.0.2.7:8350/", with the brackets that an IPv6 address needs.
std::string address_of(bool tls, std::string const& host, int port);

/// What the QR code of a pairing code says: "https://192.0.2.7:8350/pair#code=12345678&sha256=AB12…".
/// Code and fingerprint come after "#": a browser never sends that part, so it gets into no log of a server
/// or proxy and no Referer. It would stay in the browser's history; our script takes it out of the address at
/// once, and the code is void after its first use or ten minutes in any case.
std::string pairing_text(std::string_view address, std::string_view code, std::string_view fingerprint);

} // namespace guidepin::web
