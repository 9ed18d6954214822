// SPDX-License-Identifier: Apache-2.0
// A plug or port looked at end on, key up: numbered positions, key, pins or holes, fibre colours, angle.
// Numbering: position 1 at the left with the key up, looking at the face (IEC 61754-7, TIA-604-5).
// The offset key of the 16-hole family is drawn to the left of the middle with the key up: that it is offset
// is published (TIA-604-18), the side drawn is our choice and decides nothing. Verified by:
// tests/unit/drawing/motifs.cpp (order and side of the numbers), tests/golden/drawing.
#pragma once

#include "drawing/scene.hpp"
#include "plant/connector.hpp"

#include <string>
#include <vector>

namespace guidepin::drawing {

struct EndFace
{
    std::string name; ///< "Launch cord TRC-0412, far end"
    plant::ConnectorEnd end;
    bool key_up = true; ///< false: turned over, so that position 1 is at the right
    /// Fibre number at each position (colour = number modulo 12); empty: position p holds fibre p.
    std::vector<int> fibre_at;
    std::vector<int> marked; ///< positions to be emphasised
};

Scene end_face_drawing(EndFace const& face, double width = 320);

} // namespace guidepin::drawing
