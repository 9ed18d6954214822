// SPDX-License-Identifier: Apache-2.0
// Numbers, dates and lengths as the people of a job write them. Verified by: tests/golden/job,
// tests/cli/transcripts.
#pragma once

#include "job/sheet/settings.hpp"
#include "report/locale.hpp"

#include <string>
#include <string_view>

namespace guidepin::job {

/// The job's way of writing numbers, dates and lengths.
report::Locale locale_of(Settings const& settings);
/// A cord's length as people write it: "2 m", "2,5 m", "6.6 ft".
std::string cord_length(Metres length, report::Locale const& locale);
/// Returns the text with the job's decimal mark in its values, such as "-0.05" or "0.21 dB)": words that are
/// only a number with two decimals, and no others, so that labels and titles of documents stay.
/// Why a finished text is read again: setup and verdict write these sentences and know no locale (they are
/// pure), and a set-up's record keeps them as written. To print the numbers in their form at once, each of
/// these functions would take a locale, and the records of a job would differ by it.
std::string with_decimals(std::string text, report::Locale const& locale);
/// A moment as all pages and papers of the job write it, whatever zone it was recorded in: in the job's zone
/// and date order, "2026-03-03 11:27 UTC+01:00".
std::string date_time(Instant const& at, Settings const& settings);
/// Returns the sentence with each RFC 3339 time in it written as date_time() does. Rooms that know no job
/// write such times.
std::string with_times(std::string_view sentence, Settings const& settings);
} // namespace guidepin::job
