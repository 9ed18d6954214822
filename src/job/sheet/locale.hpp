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
/// The same text with the job's decimal mark in its values, such as "-0.05" or "0.21 dB)": words that are
/// nothing but a number with two decimals, and no others, so that labels and titles of documents stay.
std::string with_decimals(std::string text, report::Locale const& locale);
} // namespace guidepin::job
