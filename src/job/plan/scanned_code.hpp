// SPDX-License-Identifier: Apache-2.0
// What a code on a label or a document of this job leads to. Labels are made by others, so any text that
// names one link is understood; our own documents carry the hash of a record (report/qr.hpp). Verified by:
// tests/unit/job/scanned_code.cpp, tests/web (a label, a certificate, by camera and photo).
#pragma once

#include "job/state/state.hpp"

#include <optional>
#include <string>
#include <string_view>

namespace guidepin::job {

struct ScannedCode
{
    std::string link;  ///< its id
    std::string setup; ///< or the hash of a set-up that was chosen
};

/// Finds a link by its id, in upper or lower case; or by an id that is a separate word in the text, such as
/// "id=" in an address, if only one link is named; a certificate by its record; a job card by its set-up.
/// Returns nothing if the text names nothing in this job.
std::optional<ScannedCode> meaning_of_code(JobState const& state, std::string_view text);

} // namespace guidepin::job
