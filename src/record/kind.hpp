// SPDX-License-Identifier: Apache-2.0
// The names of the kinds of record. What each kind is, how its body is read and written and what a new record
// of it changes is its row in job/state/record_kinds.cpp, which does not compile while a name here has no
// row. The store needs the names alone: it adds no record of an unknown kind.
#pragma once

#include <algorithm>
#include <array>
#include <string_view>

namespace guidepin::record {

namespace kind {
inline constexpr std::string_view acknowledgement = "acknowledgement";
inline constexpr std::string_view cord_check = "cord-check";
inline constexpr std::string_view correction = "correction";
inline constexpr std::string_view handed_over = "handed-over";
inline constexpr std::string_view inspection = "inspection";
inline constexpr std::string_view job_opened = "job-opened";
inline constexpr std::string_view kit_item = "kit-item";
inline constexpr std::string_view kit_limits = "kit-limits";
inline constexpr std::string_view kit_override = "kit-override";
inline constexpr std::string_view link_tested = "link-tested";
inline constexpr std::string_view note = "note";
inline constexpr std::string_view operator_named = "operator";
inline constexpr std::string_view pin_change = "pin-change";
inline constexpr std::string_view reference = "reference";
inline constexpr std::string_view reference_event = "reference-event";
inline constexpr std::string_view reference_trusted = "reference-trusted";
inline constexpr std::string_view schedule = "schedule";
inline constexpr std::string_view setting = "setting";
inline constexpr std::string_view setup = "setup";
inline constexpr std::string_view source_file = "source-file";
inline constexpr std::string_view station_key = "station-key"; ///< the first record of each chain
inline constexpr std::string_view step_done = "step-done";
} // namespace kind

/// All of them, in alphabetical order: the store refuses to add a record of any other kind. A file from a
/// later program may hold others; they are carried along and checked.
inline constexpr std::array kind_names{kind::acknowledgement,
                                       kind::cord_check,
                                       kind::correction,
                                       kind::handed_over,
                                       kind::inspection,
                                       kind::job_opened,
                                       kind::kit_item,
                                       kind::kit_limits,
                                       kind::kit_override,
                                       kind::link_tested,
                                       kind::note,
                                       kind::operator_named,
                                       kind::pin_change,
                                       kind::reference,
                                       kind::reference_event,
                                       kind::reference_trusted,
                                       kind::schedule,
                                       kind::setting,
                                       kind::setup,
                                       kind::source_file,
                                       kind::station_key,
                                       kind::step_done};

constexpr bool is_known_kind(std::string_view name)
{
    return std::find(kind_names.begin(), kind_names.end(), name) != kind_names.end();
}

} // namespace guidepin::record
