// SPDX-License-Identifier: Apache-2.0
// Numbers, dates and lengths as the people of a job write them. Verified by: tests/golden/job,
// tests/cli/transcripts.
#pragma once

#include "job/sheet/settings.hpp"
#include "report/locale.hpp"

#include <string>

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
} // namespace guidepin::job
