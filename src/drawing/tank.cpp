// SPDX-License-Identifier: Apache-2.0
#include "drawing/tank.hpp"

#include "drawing/shapes.hpp"

#include <algorithm>

namespace guidepin::drawing {

bool has_cap(Standing standing)
{
    return standing == Standing::fail || standing == Standing::marginal_fail;
}

double liquid_height(Tank const& tank, double height)
{
    if (tank.standing == Standing::open || tank.standing == Standing::unused) return 0;
    // A fail without a level (no light at all) fills the vessel.
    double const level = tank.level                                                  ? *tank.level
                         : has_cap(tank.standing) || tank.standing == Standing::held ? 1
                                                                                     : 0;
    return height * std::clamp(level, 0.0, 1.0);
}

double cap_height_of(Tank const& tank, double spill)
{
    if (!has_cap(tank.standing)) return 0;
    double const excess = tank.level ? *tank.level - 1 : 1;
    return spill * std::clamp(1.0 / 3 + excess * 2 / 3, 1.0 / 3, 1.0);
}

std::vector<Node> tank_shapes(Tank const& tank, Box const& vessel, double spill)
{
    std::vector<Node> shapes;
    auto const add = [&](auto shape) { shapes.push_back(Node{std::move(shape)}); };
    if (tank.standing == Standing::unused) return shapes;

    double const rim = std::max(1.5, vessel.width * 0.1);
    std::vector<Point> const wall{{vessel.x - rim, vessel.y},  {vessel.x, vessel.y},
                                  {vessel.x, vessel.bottom()}, {vessel.right(), vessel.bottom()},
                                  {vessel.right(), vessel.y},  {vessel.right() + rim, vessel.y}};
    if (tank.standing == Standing::open) {
        add(polyline(wall, stroke(Token::open, 1, true)));
        return shapes;
    }
    double const height = liquid_height(tank, vessel.height);
    Box const liquid{vessel.x, vessel.bottom() - height, vessel.width, height};
    bool const fails = has_cap(tank.standing);
    if (tank.standing == Standing::held) {
        add(filled(vessel, Token::paper));
        add(Hatch{liquid, std::max(3.0, vessel.width / 4), stroke(Token::held, 1)});
        if (height > 0) add(Line{{liquid.x, liquid.y}, {liquid.right(), liquid.y}, stroke(Token::held, 1.2)});
    } else {
        add(filled(vessel, Token::paper));
        if (height > 0) add(filled(liquid, fails ? Token::fail : Token::pass));
        if (tank.standing == Standing::marginal_pass) {
            // A float just under the surface: passes, but not by the guard band.
            double const y = std::min(liquid.y + 3, liquid.bottom());
            add(Line{{vessel.x, y}, {vessel.right(), y}, stroke(Token::paper, 1.6)});
        }
    }
    add(polyline(wall, stroke(Token::ink, 1)));
    if (fails) {
        double const cap = cap_height_of(tank, spill);
        double const over = rim + 1;
        Box const box{vessel.x - over, vessel.y - cap, vessel.width + 2 * over, cap};
        bool const solid = tank.standing == Standing::fail;
        add(Rect{box, std::min(2.0, cap / 2), paint(solid ? Token::fail : Token::paper),
                 stroke(Token::fail, 1.2)});
    }
    if (tank.level && *tank.level < 0) {
        // Gain is not possible: a drop under the floor says that the reading lies below zero.
        double const middle = vessel.x + vessel.width / 2;
        double const drop = std::min(4.0, vessel.width / 3);
        add(polygon({{middle - drop, vessel.bottom() + 1.5},
                     {middle + drop, vessel.bottom() + 1.5},
                     {middle, vessel.bottom() + 1.5 + drop}},
                    paint(Token::ink)));
    }
    return shapes;
}

} // namespace guidepin::drawing
