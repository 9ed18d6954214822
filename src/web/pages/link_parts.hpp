// SPDX-License-Identifier: Apache-2.0
// The parts of a link's page, each from the certificate's plain values.
#pragma once

#include "base/safe_text.hpp"
#include "record/derived.hpp"
#include "report/certificate.hpp"
#include "web/desk.hpp"

namespace guidepin::web {

Html link_facts(Desk const& desk, report::LinkCertificate const& certificate, record::DerivedLink const& row);
Html link_light(report::LinkCertificate const& certificate);
Html link_losses(Desk const& desk, report::LinkCertificate const& certificate);
Html link_polarity(report::LinkCertificate const& certificate);
Html link_applications(report::LinkCertificate const& certificate);
Html link_evidence(report::LinkCertificate const& certificate);

/// A photo as a browser hands it over: a data address whose bytes are what its type says.
struct Picture
{
    std::string type, base64;
};
/// Errors: invalid_input for another type, for bytes that are not of the type, and for more than a note
/// holds.
Result<Picture> picture_of(std::string_view data_address);
Result<std::string> bytes_of(std::string_view base64);

} // namespace guidepin::web
