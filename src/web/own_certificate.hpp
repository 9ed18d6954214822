// SPDX-License-Identifier: Apache-2.0
// A certificate of our own for TLS where none is given: ECDSA P-256, signed by itself, made once per machine.
// Verified by: tests/unit/web/own_certificate.cpp (read back by OpenSSL), tests/web (a browser connects).
#pragma once

#include "base/result.hpp"

#include <string>

namespace guidepin::web {

struct CertificateFiles
{
    std::string certificate, private_key;
    std::string fingerprint; ///< SHA-256, to compare on a device's screen
};

/// Reads `folder`/workbench.pem and .key, or makes them (the key readable by its owner alone).
Result<CertificateFiles> own_certificate(std::string const& folder, std::string const& address);

} // namespace guidepin::web
