// SPDX-License-Identifier: Apache-2.0
// The drawings of a set-up: each phase as a line of light, and the plugs of its cords looked at end on.
// Verified by: tests/unit/job/set_up.cpp (every pin combination drawn legally).
#pragma once

#include "drawing/end_face.hpp"
#include "drawing/light_path.hpp"
#include "job/entry/set_up_record.hpp"
#include "job/plan/solved_set_up.hpp"

#include <string>
#include <utility>
#include <vector>

namespace guidepin::job {

/// Returns one phase as a line of light. From the second phase on, it emphasises what is new since `before`;
/// nullptr in the first phase, in which all is new.
drawing::LightPath light_path_of(setup::Scene const& scene, SolvedSetup const& solved,
                                 setup::Scene const* before);

/// Returns each phase's line of light as an SVG file: name and bytes.
std::vector<std::pair<std::string, std::string>> setup_drawings(SetupSheet const& sheet, double width = 900);

/// Returns both plugs of each cord of the plan, looked at end on, as they come out of the kit. Fibres are
/// counted at the near plug.
std::vector<drawing::EndFace> end_faces_of(SolvedSetup const& solved);
/// Returns them as SVG files: name and bytes.
std::vector<std::pair<std::string, std::string>> end_face_files(SolvedSetup const& solved);

} // namespace guidepin::job
