// SPDX-License-Identifier: Apache-2.0
// From a judged link to the values of its certificate. Verified by: tests/cli/package.py,
// tests/unit/job/kit_register.cpp (the light path as registered).
#pragma once

#include "job/assess/assess.hpp"
#include "report/certificate.hpp"

#include <cstddef>

namespace guidepin::job {

/// Returns the certificate of one scheduled link. `link` is its index.
Result<report::LinkCertificate> certificate_of(JobState const& state, Assessment const& assessment,
                                               std::size_t link);

} // namespace guidepin::job
