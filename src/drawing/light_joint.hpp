// SPDX-License-Identifier: Apache-2.0
// Plugs, ports and joints of the line of light, as shapes.
#pragma once

#include "drawing/light_path.hpp"

#include <vector>

namespace guidepin::drawing {

namespace light {
constexpr double housing = 26; ///< length of a plug's housing along the line
constexpr double nose = 9;     ///< of its ferrule, in front of the housing
constexpr double half = 14;    ///< half the height of a housing
constexpr double gap = 16;     ///< between two noses: joints are drawn a little open, so that pins are seen
constexpr double lip = 18;     ///< how far a port reaches over the plug that it takes
constexpr double end_length = housing + nose;
constexpr double port_length = 12;
} // namespace light

/// Length along the line that an end takes.
double length_of(LightEnd const& end);

/// An end whose back is at `back` and which looks to the right (`facing` 1) or left (-1), on the axis y.
void draw_end(Scene& scene, LightEnd const& end, Point back, int facing);

/// Front edges of the two noses of a joint, and the axis on which they meet.
struct JointPlace
{
    double left_front = 0, right_front = 0;
    double axis = 0;
};

/// Draws the adapter or port around two noses.
void draw_joint(Scene& scene, LightJoint const& joint, LightEnd const& left, LightEnd const& right,
                JointPlace const& place);

/// Words under an end: pins, key, face.
std::vector<std::string> words_of(LightEnd const& end);

} // namespace guidepin::drawing
