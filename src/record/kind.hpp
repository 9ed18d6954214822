// SPDX-License-Identifier: Apache-2.0
// The kinds of record. An open list: a new kind is a constant here and a row in kind.cpp.
#pragma once

#include <span>
#include <string_view>

namespace guidepin::record {

struct Kind
{
    std::string_view name;
    std::string_view description; ///< one sentence: what happened, for the manual and the job's history
};

/// All kinds this program writes, by name. A file from a later program may hold others: they are carried and
/// checked.
std::span<Kind const> kinds();
Kind const* find_kind(std::string_view name);

namespace kind {
inline constexpr std::string_view station_key =
    "station-key"; ///< written by the store itself, first of each chain
inline constexpr std::string_view job_opened = "job-opened";
inline constexpr std::string_view setting = "setting";
inline constexpr std::string_view operator_named = "operator";
inline constexpr std::string_view source_file = "source-file";
inline constexpr std::string_view schedule = "schedule";
inline constexpr std::string_view setup = "setup";
inline constexpr std::string_view step_done = "step-done";
inline constexpr std::string_view kit_item = "kit-item";
inline constexpr std::string_view kit_limits = "kit-limits";
inline constexpr std::string_view kit_override = "kit-override";
inline constexpr std::string_view pin_change = "pin-change";
inline constexpr std::string_view inspection = "inspection";
inline constexpr std::string_view reference = "reference";
inline constexpr std::string_view cord_check = "cord-check";
inline constexpr std::string_view reference_event = "reference-event";
inline constexpr std::string_view reference_trusted = "reference-trusted";
inline constexpr std::string_view link_tested = "link-tested";
inline constexpr std::string_view correction = "correction";
inline constexpr std::string_view acknowledgement = "acknowledgement";
inline constexpr std::string_view sign_off = "sign-off";
inline constexpr std::string_view handed_over = "handed-over";
inline constexpr std::string_view note = "note";
} // namespace kind

} // namespace guidepin::record
