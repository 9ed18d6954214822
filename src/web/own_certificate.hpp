// SPDX-License-Identifier: Apache-2.0
// A certificate of our own for TLS where none is given: ECDSA P-256, signed by itself, kept with its key in
// one file so that the two change together. It is made again when an address is missing from it or its end is
// near; what changed, when and why is kept beside it for the devices that knew the old one. Verified by:
// tests/unit/web/own_certificate.cpp (read back by OpenSSL), tests/web/pairing.test.mjs (a browser connects
// and sees the change).
#pragma once

#include "base/result.hpp"

#include <cstdint>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace guidepin::web {

/// A certificate took the place of another.
struct CertificateChange
{
    std::int64_t at_ms = 0;
    std::string why;           ///< "192.0.2.9 was not in it": a clause about the old one
    std::string before, after; ///< SHA-256 fingerprints; `before` is empty when the old one could not be read
};

struct OwnCertificate
{
    std::string path;        ///< PEM: certificate and key
    std::string fingerprint; ///< SHA-256: "AB:12:…", 32 bytes
    std::int64_t ends_ms = 0;
    bool renewed = false;                   ///< just now, in place of another: the last of `changes`
    std::vector<CertificateChange> changes; ///< the last ones, oldest first
};

/// Browsers take no certificate that is valid for longer.
inline constexpr int certificate_days = 397;
/// So long before its end a certificate is made again.
inline constexpr int renewed_days_before = 30;

/// Reads `folder`/workbench.pem, or makes it. `names`: the addresses and host names that it has to be good
/// for, beside localhost and 127.0.0.1. One that is made again keeps the addresses of the old one, up to 32,
/// so that a machine that goes back and forth between two networks does not change it each time.
Result<OwnCertificate> own_certificate(std::string const& folder, std::span<std::string const> names,
                                       std::int64_t now_ms);

/// Why it has to be made again now; empty when it does not have to be.
std::string why_renewed(std::string const& path, std::span<std::string const> names, std::int64_t now_ms);

/// Of any certificate (PEM). Errors: invalid_input when it cannot be read.
Result<std::string> certificate_fingerprint(std::string const& path);

/// "AB12 CD34 …" in four lines of four groups, as two people compare it by voice. The first two lines are
/// 128 bits: nobody makes a second certificate that agrees in those.
std::vector<std::string> fingerprint_lines(std::string_view fingerprint);

} // namespace guidepin::web
