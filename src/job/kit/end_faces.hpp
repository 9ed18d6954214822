// SPDX-License-Identifier: Apache-2.0
// Which criteria an end face of the kit is judged by. Verified by: tests/unit/job/kit_register.cpp.
#pragma once

#include "job/entry/kit_bodies.hpp"

#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace guidepin::job {

/// Returns the editions and types of end face that the tables hold for arrays, "2 (2015)" and "multimode-pc",
/// for people to choose from.
std::vector<std::pair<std::string, std::string>> end_face_choices(facts::Tables const& tables);
/// Returns the edition to judge arrays by if none is named: the latest one with criteria for them.
std::string usual_edition(facts::Tables const& tables, std::string_view type);
/// Returns the row of the table for an item's end: "multimode-pc", from its fibre and face.
std::string usual_face_type(KitItem const& item, int end);

} // namespace guidepin::job
