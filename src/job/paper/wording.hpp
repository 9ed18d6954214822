// SPDX-License-Identifier: Apache-2.0
// Sentences and phrases that several documents and pages share. Verified by: tests/cli/package.py.
#pragma once

#include "facts/tables.hpp"
#include "job/doubt/expectation.hpp"
#include "job/sheet/settings.hpp"
#include "report/locale.hpp"

#include <string>

namespace guidepin::job {

/// Returns the rule by which the job decides, in a few words with its source, for a certificate.
std::string decision_rule_text(Settings const& settings);
/// Returns the same as a whole sentence, for the summary.
std::string decision_rule_sentence(Settings const& settings);

/// Returns a reference method in words, from its id in a record: "one-cord reference". An id that this
/// program does not know comes back unchanged.
std::string method_words(std::string const& id);
/// Returns the method and the grade of the cords: "one-cord reference, reference-grade cords".
std::string method_text(Settings const& settings, char const* cords);

/// Returns "reference grade".
std::string grade_text(facts::CordGrade grade);

/// Returns how a link stands out, such as "0.79 dB at 7, 850 nm; links like this show 0.20 to 0.55 dB there".
std::string standout_text(LinkStandout const& standout, report::Locale const& locale);

} // namespace guidepin::job
