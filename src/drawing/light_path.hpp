// SPDX-License-Identifier: Apache-2.0
// The line of light: from the source to the meter, left to right, every joint drawn with its pins, holes,
// keys and faces. Whoever solves a set-up or judges a link fills the plain lists below.
// Pins stick out, holes are hollow; a key is a bump on its side of the plug; an angled face is cut aslant:
// all of it reads in black and white, and in words below each joint.
//
// Verified by: tests/unit/drawing/motifs.cpp, tests/golden/drawing.
#pragma once

#include "drawing/scene.hpp"
#include "plant/connector.hpp"

#include <optional>
#include <string>
#include <vector>

namespace guidepin::drawing {

/// One end of a body on the line: a plug or a fixed port.
struct LightEnd
{
    plant::EndKind kind = plant::EndKind::plug;
    plant::Pins pins = plant::Pins::unpinned;
    plant::Face face = plant::Face::flat;
    plant::Slope slope = plant::Slope::none;
    bool key_up = true;   ///< as drawn; the joint's key relation follows from both sides
    bool changed = false; ///< emphasised: differs from the phase before
    bool known = true;    ///< false: pins, key and face are not recorded; drawn as an empty dashed shell
    std::string label;    ///< "end A", "far end"; may be empty
};

enum class BodyKind : std::uint8_t {
    source,
    meter,
    cord,    ///< launch, tail, substitution, known cord: a test cord
    cabling, ///< what is tested
    part,    ///< a piece inside the cabling: trunk, module
};

struct LightBody
{
    BodyKind kind = BodyKind::cord;
    std::string title;             ///< "Launch cord"
    std::string detail;            ///< "type B, 2 m, reference grade"
    std::string serial;            ///< "TRC-0412"
    std::optional<LightEnd> left;  ///< none for the source
    std::optional<LightEnd> right; ///< none for the meter
    bool changed = false;
};

enum class JointKind : std::uint8_t {
    adapter, ///< two plugs in an adapter
    port,    ///< a plug in a fixed port
    apart,   ///< not mated in this phase: drawn open, light stops
};

/// Between bodies[i] and bodies[i + 1].
struct LightJoint
{
    JointKind kind = JointKind::adapter;
    plant::KeyRelation keys = plant::KeyRelation::opposed;
    std::string label; ///< "J2", "End A"; may be empty
    std::string fault; ///< in words where it must not be mated: "pinned to pinned"; drawn in the fail paint
    bool changed = false; ///< emphasised
    bool stays = false;   ///< must not be opened: drawn with a lock bar ("stays shut")
};

struct LightPath
{
    std::string name;        ///< "Reference"
    std::string description; ///< empty: put together from the parts
    std::string heading;     ///< "1  Reference": drawn above; may be empty
    std::vector<LightBody> bodies;
    std::vector<LightJoint> joints; ///< bodies.size() - 1
    std::vector<std::string>
        changes; ///< "Pins fitted to the far end of TRC-0412": listed under the line, emphasised
};

/// Drawn no wider than `width` (at least 300): it folds onto further lines when it must.
Scene light_path_drawing(LightPath const& path, double width);

/// The same in one sentence a joint: for screen readers and plain text.
std::string light_path_in_words(LightPath const& path);

} // namespace guidepin::drawing
