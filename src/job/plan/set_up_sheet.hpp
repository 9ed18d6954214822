// SPDX-License-Identifier: Apache-2.0
// A set-up as people see it: facts, phases with their line of light, steps and numbers. Page, job card,
// command line and record are made from this one sheet. Record body: docs/formats/record-bodies.md. Verified
// by: tests/unit/job/set_up.cpp (there and back, every pin combination drawn legally), tests/golden/job (one
// card).
#pragma once

#include "drawing/end_face.hpp"
#include "job/entry/set_up_record.hpp"
#include "job/plan/set_up.hpp"
#include "report/job_card.hpp"
#include "units/instant.hpp"

#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace guidepin::job {

/// Whether a trunk of this type leads a plug with its key up to one with its key down (TIA-568.3).
bool turns_key(std::string const& type);

std::string title_of(setup::Phase phase); ///< "Prepare", "Reference", "Cord check", "Test"

/// `group` gives number and links; nullptr without a job.
SetupSheet sheet_of(SolvedSetup const& solved, SetupGroup const* group = nullptr);

/// The card: the same steps, one action each, with advice in fewer words.
report::JobCard job_card_of(SetupSheet const& sheet, report::JobHead const& head);

/// Both plugs of each cord of the plan, looked at end on, as they come out of the kit; fibres are counted at
/// the near plug.
std::vector<drawing::EndFace> end_faces_of(SolvedSetup const& solved);
/// As SVG files: name and bytes.
std::vector<std::pair<std::string, std::string>> end_face_files(SolvedSetup const& solved);

struct CardOptions
{
    report::Paper paper = report::Paper::a4;
    report::Locale locale;
    Instant made; ///< the time to print
    std::string program = "0.1.0";
};
/// The bytes of the card's PDF. Errors: refused when its steps do not fit on two sides; environment without
/// fonts.
Result<std::string> job_card_pdf(SetupSheet const& sheet, report::JobHead const& head,
                                 CardOptions const& options);

/// Each phase's line of light as an SVG file: name and bytes.
std::vector<std::pair<std::string, std::string>> setup_drawings(SetupSheet const& sheet, double width = 900);

/// "up to 0.11 dB (0.50 dB with a remark)": how the numbers of a check are said.
std::string accept_text(CheckNumbers const& numbers);
std::string refuse_text(CheckNumbers const& numbers);

/// "links A, B … and 12 more".
std::string links_text(std::vector<std::string> const& links, std::size_t shown);

} // namespace guidepin::job
