// SPDX-License-Identifier: Apache-2.0
// Oracle: rigid bodies in space. Each plug is a body in its own frame (x to the right, y towards the key, z
// out of the face, seen from in front); mating turns the second body by rotation matrices, and holes that
// coincide in space meet, faces whose normals oppose close. Nothing of the product's formulas is used.
// Dimensions: pitch 0.25 mm, rows 0.5 mm apart (EN 61754-7), face angle 8 degrees (IEC 61754-7-1). Tolerance:
// 1e-9 mm and 1e-9 degrees for rounding; the answers differ by 0.25 mm and 16 degrees.
#include "no_plan_text.hpp"
#include "plant/presets.hpp"
#include "setup/plan.hpp"

#include <gtest/gtest.h>

#include <array>
#include <cmath>

namespace guidepin::setup {
namespace geometry_test {

using plant::Pins;
using Vector = std::array<double, 3>;
using Matrix = std::array<Vector, 3>;

constexpr double pi = 3.14159265358979323846;

Matrix about_y(double angle)
{
    return {Vector{std::cos(angle), 0, std::sin(angle)}, Vector{0, 1, 0},
            Vector{-std::sin(angle), 0, std::cos(angle)}};
}
Matrix about_z(double angle)
{
    return {Vector{std::cos(angle), -std::sin(angle), 0}, Vector{std::sin(angle), std::cos(angle), 0},
            Vector{0, 0, 1}};
}
Matrix about_x(double angle)
{
    return {Vector{1, 0, 0}, Vector{0, std::cos(angle), -std::sin(angle)},
            Vector{0, std::sin(angle), std::cos(angle)}};
}
Vector times(Matrix const& m, Vector const& v)
{
    Vector out{};
    for (std::size_t r = 0; r < 3; ++r) out[r] = m[r][0] * v[0] + m[r][1] * v[1] + m[r][2] * v[2];
    return out;
}

/// The second plug looks back at the first: half a turn about the vertical. Opposed keys: half a turn about
/// the light's axis as well.
Vector placed(Vector const& v, plant::KeyRelation keys)
{
    Vector const facing = times(about_y(pi), v);
    return keys == plant::KeyRelation::opposed ? times(about_z(pi), facing) : facing;
}

Vector hole(plant::Family const& family, int p)
{
    int const row = (p - 1) / family.columns;
    int const column = (p - 1) % family.columns;
    double const x = 0.25 * (column - (family.columns - 1) / 2.0);
    double const y = family.rows == 1 ? 0.0 : row == 0 ? 0.25 : -0.25; // row 1 is nearest the key
    return {x, y, 0};
}

bool same_place(Vector const& a, Vector const& b)
{
    return std::abs(a[0] - b[0]) < 1e-9 && std::abs(a[1] - b[1]) < 1e-9;
}

/// A set-up that has a plan exactly when the joint between launch cord and cabling is good: neutral meter, no
/// check, everything else fits by construction.
Question joint_question(plant::ConnectorEnd const& cord_far, plant::ConnectorEnd const& cabling,
                        plant::EndFitting fitting)
{
    plant::Family const family = cabling.family;
    Question question;
    question.source = port_of(family, Pins::pinned);
    question.meter = port_of(family, Pins::neutral);
    question.cabling.first = {"first", cabling, fitting};
    question.cabling.second = {"second", plug_of(family, Pins::pinned), plant::EndFitting::opposed_adapter};
    question.cord_check = false;
    Cord launch = cord_of("TC1", family, Pins::unpinned, Pins::unpinned);
    launch.type = family.rows == 1 ? "A" : "I-A";
    launch.ends[1].plug = cord_far;
    launch.roles = Roles::only({Role::launch});
    Cord tail = cord_of("TC2", family, Pins::unpinned, Pins::unpinned);
    tail.roles = Roles::only({Role::tail});
    question.kit.cords = {launch, tail};
    return question;
}

TEST(RigidBodies, holes_that_coincide_are_those_that_see_light)
{
    for (plant::Family const& family :
         {plant::Family{plant::Family::Key::mpo12, 1, 12}, plant::Family{plant::Family::Key::mpo12, 2, 12},
          plant::Family{plant::Family::Key::mpo16, 1, 16}, plant::Family{plant::Family::Key::mpo16, 2, 16}}) {
        for (auto const keys : {plant::KeyRelation::opposed, plant::KeyRelation::aligned}) {
            int met = 0;
            for (int p = 1; p <= family.positions(); ++p) {
                for (int q = 1; q <= family.positions(); ++q) {
                    plant::ConnectorEnd cabling = plug_of(family, Pins::pinned);
                    plant::ConnectorEnd far = plug_of(family, Pins::unpinned);
                    cabling.occupied = plant::Occupancy{}.set(static_cast<std::size_t>(p - 1));
                    far.occupied = plant::Occupancy{}.set(static_cast<std::size_t>(q - 1));
                    bool const coincide = same_place(hole(family, p), placed(hole(family, q), keys));
                    auto const answer = solve(joint_question(far, cabling,
                                                             keys == plant::KeyRelation::opposed
                                                                 ? plant::EndFitting::opposed_adapter
                                                                 : plant::EndFitting::aligned_adapter),
                                              SolveOptions{false});
                    ASSERT_TRUE(answer) << answer.error().message;
                    ASSERT_EQ(answer->plan.has_value(), coincide)
                        << family.name() << " " << plant::name_of(keys) << " " << p << " meets " << q << " "
                        << text_of(answer->none);
                    if (!coincide) {
                        EXPECT_EQ(answer->none.blockers[0].rules.front(), Rule::positions);
                    }
                    met += coincide ? 1 : 0;
                }
            }
            EXPECT_EQ(met, family.positions());
        }
    }
}

TEST(RigidBodies, angled_faces_close_or_leave_a_wedge)
{
    plant::Family const family{plant::Family::Key::mpo12, 1, 12};
    int closed = 0;
    for (auto const keys : {plant::KeyRelation::opposed, plant::KeyRelation::aligned}) {
        for (int const first : {1, 0, -1}) {
            for (int const second : {1, 0, -1}) {
                // The face's normal, tilted about the row by 8 degrees one way or the other.
                Vector const a = times(about_x(first * 8 * pi / 180), Vector{0, 0, 1});
                Vector const b = placed(times(about_x(second * 8 * pi / 180), Vector{0, 0, 1}), keys);
                double const cosine = -(a[0] * b[0] + a[1] * b[1] + a[2] * b[2]);
                double const cross = std::hypot(a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2],
                                                a[0] * b[1] - a[1] * b[0]);
                double const wedge = std::atan2(cross, cosine) * 180 / pi;
                bool const closes = wedge < 1e-9;
                auto const shaped = [&](int slope, Pins pins) {
                    plant::ConnectorEnd end =
                        plug_of(family, pins, slope == 0 ? plant::Face::flat : plant::Face::angled);
                    if (slope < 0) end.slope = plant::Slope::up;
                    return end;
                };
                auto const answer = solve(
                    joint_question(shaped(second, Pins::unpinned), shaped(first, Pins::pinned),
                                   keys == plant::KeyRelation::opposed ? plant::EndFitting::opposed_adapter
                                                                       : plant::EndFitting::aligned_adapter),
                    SolveOptions{false});
                ASSERT_TRUE(answer);
                EXPECT_EQ(answer->plan.has_value(), closes)
                    << plant::name_of(keys) << " " << first << " " << second << " wedge " << wedge;
                if (!closes) {
                    EXPECT_EQ(answer->none.blockers[0].rules.front(),
                              first != 0 && second != 0 ? Rule::slope : Rule::face_mixed);
                }
                closed += closes ? 1 : 0;
            }
        }
    }
    EXPECT_EQ(closed, 6); // flat with flat twice, and two pairs of slopes for each key relation
}

} // namespace geometry_test
} // namespace guidepin::setup
