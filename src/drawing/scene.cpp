// SPDX-License-Identifier: Apache-2.0
#include "drawing/scene.hpp"

namespace guidepin::drawing {

void Scene::place(Scene const& other, Point at, double scale)
{
    Group group;
    group.name = other.name;
    group.description = other.description;
    group.shift = at;
    group.scale = scale;
    group.children = other.nodes;
    add(std::move(group));
}

} // namespace guidepin::drawing
