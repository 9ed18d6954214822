// SPDX-License-Identifier: Apache-2.0
// One phase of a set-up as a line of light from source to meter: plain data for whoever draws it.
// Verified by: tests/unit/setup/steps.cpp.
#pragma once

#include "setup/plan.hpp"

#include <optional>
#include <string>
#include <vector>

namespace guidepin::setup {

/// A plug, or the inside of a port, as it is drawn: which way it looks is its place in the row.
struct ScenePlug
{
    plant::ConnectorEnd end;
    bool pins_changed = false; ///< pins were fitted or taken out on the way into this phase
    bool pins_exchangeable = false;
};

enum class SceneKind : std::uint8_t {
    port,    ///< of source or meter: one plug entry, its inside
    cord,    ///< left and right plug
    cabling, ///< left and right plug
    adapter, ///< between two plugs: the panel's or the kit's
};

struct SceneItem
{
    SceneKind kind = SceneKind::port;
    Part part = Part::source;     ///< of a port, cord or the cabling
    std::string label;            ///< "launch cord"
    std::string id;               ///< serial of a cord, name of an end
    std::string type;             ///< "B" of a cord; class of the cabling
    std::optional<Metres> length; ///< of a cord
    std::optional<facts::CordGrade> grade;
    std::optional<ScenePlug> left, right;
    std::optional<plant::KeyRelation> keys; ///< of an adapter, or of a port
    JoinedBy owner = JoinedBy::port;        ///< of an adapter: panel or kit
    bool changed = false;                   ///< not there, or not joined like this, in the phase before
};

struct Scene
{
    Phase phase = Phase::reference;
    std::string title;                ///< "Reference"
    std::vector<SceneItem> items;     ///< from source to meter
    std::vector<std::string> changes; ///< in words, what is different from the phase before
};

/// One scene for each phase of the plan, in order.
std::vector<Scene> scenes(Question const& question, Plan const& plan);

/// A plug's end face by itself: numbered positions, key up, with the fibre number that arrives at each.
struct FaceView
{
    plant::ConnectorEnd end;
    std::string id;
    struct Hole
    {
        int position = 0;
        int row = 0;    ///< 0 nearest the key
        int column = 0; ///< 0 at the left, key up
        bool filled = false;
        int fibre = 0; ///< colour number: position at the cord's first end; 0 where empty
    };
    std::vector<Hole> holes;
};
FaceView face_view(Cord const& cord, int end);

} // namespace guidepin::setup
