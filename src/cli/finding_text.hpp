// SPDX-License-Identifier: Apache-2.0
// A finding as text and as JSON, for the commands that print findings.
#pragma once

#include "job/findings/findings.hpp"

#include <string>

#include <nlohmann/json.hpp>

namespace guidepin::cli {

nlohmann::ordered_json finding_json(job::JobState const& state, job::JobFinding const& entry);

/// Heading, evidence, alternatives, action, acknowledgement; ends with a line feed.
std::string finding_text(job::JobState const& state, job::JobFinding const& entry);
/// "Acknowledged by …: reason", and why it asks again; empty where nobody acknowledged it.
std::string acknowledged_text(job::JobState const& state, job::JobFinding const& entry);

} // namespace guidepin::cli
