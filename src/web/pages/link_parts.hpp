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

} // namespace guidepin::web
