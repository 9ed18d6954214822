// SPDX-License-Identifier: Apache-2.0
// Oracle: rigid bodies. Faces, fibres, keys and slopes are put into space and turned by rotation matrices;
// which fibres touch and which faces lie flush is then measured, not looked up. Nothing of the program's
// formulas is used. Dimensions: IEC 61754-7 (pitch 0.25 mm, rows at +-0.25 mm from the line of the pins,
// angle 8 degrees); numbering (key up, 1 at the left, row 1 nearest the key): TIA-604-5, TIA-604-18,
// TIA-568.3; two-row order from memory. Tolerance: 1e-9 mm and 1e-9 degrees, for rounding in sine and cosine
// only.
#include "plant/presets.hpp"

#include <gtest/gtest.h>

#include <array>
#include <cmath>

namespace guidepin::plant {
namespace geometry_test {

using Vector = std::array<double, 3>;
using Matrix = std::array<Vector, 3>;

constexpr double degree = 3.14159265358979323846 / 180.0;

Matrix rotation(int axis, double angle)
{
    double const c = std::cos(angle);
    double const s = std::sin(angle);
    Matrix m{};
    auto const a = static_cast<std::size_t>(axis);
    std::size_t const b = (a + 1) % 3;
    std::size_t const d = (a + 2) % 3;
    m[a][a] = 1;
    m[b][b] = c;
    m[b][d] = -s;
    m[d][b] = s;
    m[d][d] = c;
    return m;
}

Vector operator*(Matrix const& m, Vector const& v)
{
    Vector r{};
    for (std::size_t i = 0; i < 3; ++i) {
        for (std::size_t k = 0; k < 3; ++k) r[i] += m[i][k] * v[k];
    }
    return r;
}

Matrix operator*(Matrix const& a, Matrix const& b)
{
    Matrix r{};
    for (std::size_t i = 0; i < 3; ++i) {
        for (std::size_t j = 0; j < 3; ++j) {
            for (std::size_t k = 0; k < 3; ++k) r[i][j] += a[i][k] * b[k][j];
        }
    }
    return r;
}

/// Own frame of a face: x to the right and y to the key as seen by who looks at it, z out of the face to the
/// viewer.
Vector fibre(int rows, int columns, int position)
{
    int const row = (position - 1) / columns;
    int const column = (position - 1) % columns;
    return {(column - (columns - 1) / 2.0) * 0.25, rows == 1 ? 0.0 : (row == 0 ? 0.25 : -0.25), 0.0};
}

int fibre_at(int rows, int columns, Vector const& where)
{
    for (int p = 1; p <= rows * columns; ++p) {
        Vector const at = fibre(rows, columns, p);
        if (std::hypot(at[0] - where[0], at[1] - where[1]) < 1e-9) return p;
    }
    return 0;
}

Matrix transposed(Matrix const& m)
{
    Matrix t{};
    for (std::size_t i = 0; i < 3; ++i) {
        for (std::size_t j = 0; j < 3; ++j) t[i][j] = m[j][i];
    }
    return t;
}

/// Orientation of the second plug in the frame of the first when they face each other.
Matrix facing(KeyRelation keys)
{
    Matrix const face_to_face =
        rotation(1, 180 * degree); // about the key direction: both keys to the same side
    return keys == KeyRelation::aligned ? face_to_face : rotation(2, 180 * degree) * face_to_face;
}

struct Grid
{
    Family family;
    char const* source;
};

std::vector<Grid> grids()
{
    return {
        {Family{Family::Key::mpo12, 1, 8}, "IEC 61754-7, eight holes in a row"},
        {Family{Family::Key::mpo12, 1, 12}, "IEC 61754-7 / TIA-604-5"},
        {Family{Family::Key::mpo16, 1, 16}, "IEC 61754-7-3 / TIA-604-18"},
        {Family{Family::Key::mpo12, 2, 12}, "IEC 61754-7 / TIA-604-5, two rows"},
        {Family{Family::Key::mpo16, 2, 16}, "IEC 61754-7-3 / TIA-604-18, two rows"},
    };
}

TEST(Geometry, AdapterMapsAreThoseOfRigidBodies)
{
    for (Grid const& grid : grids()) {
        int const rows = grid.family.rows;
        int const columns = grid.family.columns;
        for (KeyRelation const keys : {KeyRelation::opposed, KeyRelation::aligned}) {
            Matrix const turned = facing(keys);
            for (int p = 1; p <= rows * columns; ++p) {
                // The point of space in which fibre p of the first face ends, seen in the frame of the
                // second.
                int const met = fibre_at(rows, columns, transposed(turned) * fibre(rows, columns, p));
                ASSERT_NE(met, 0) << grid.source << " position " << p;
                EXPECT_EQ(met_position(grid.family, keys, p), met) << grid.source << " position " << p;
                EXPECT_EQ(adapter_map(keys, grid.family).at(p), met);
            }
        }
    }
}

TEST(Geometry, AKeyTurnedByHalfATurnMirrorsTheNumbers)
{
    for (Grid const& grid : grids()) {
        int const rows = grid.family.rows;
        int const columns = grid.family.columns;
        for (int p = 1; p <= rows * columns; ++p) {
            int const renumbered =
                fibre_at(rows, columns, rotation(2, 180 * degree) * fibre(rows, columns, p));
            EXPECT_EQ(key_turn_map(grid.family).at(p), renumbered) << grid.source;
        }
    }
}

/// A straight ribbon cable along z: the near face looks to -z, the far face to +z, no fibre crosses another.
int straight_ribbon(int rows, int columns, int position, bool far_key_down)
{
    Matrix const near = rotation(1, 180 * degree); // own frame -> space, key up
    Matrix const far = far_key_down ? rotation(2, 180 * degree) : rotation(2, 0);
    return fibre_at(rows, columns, transposed(far) * (near * fibre(rows, columns, position)));
}

TEST(Geometry, StraightRibbonsMakeTypesAAndBAndTheRibbonStraightFamily)
{
    // Keys of type A up/down, of type B up/up: TIA-568-B.1-7, TIA-568.3.
    for (Grid const& grid : grids()) {
        bool const two = grid.family.rows == 2;
        PositionMap const a = cable_map(two ? "II-A" : "A", grid.family).value();
        PositionMap const b = cable_map(two ? "II-B" : "B", grid.family).value();
        for (int p = 1; p <= grid.family.positions(); ++p) {
            EXPECT_EQ(a.at(p), straight_ribbon(grid.family.rows, grid.family.columns, p, true))
                << grid.source;
            EXPECT_EQ(b.at(p), straight_ribbon(grid.family.rows, grid.family.columns, p, false))
                << grid.source;
        }
    }
}

/// Angle between two faces that meet, in degrees: 0 is flush.
double wedge(int first_slope, int second_slope, KeyRelation keys)
{
    auto const normal = [](int slope) {
        return rotation(0, slope * 8 * degree) * Vector{0, 0, 1}; // tilted about the line of the pins
    };
    Vector const a = normal(first_slope);
    Vector const b = facing(keys) * normal(second_slope);
    double const cosine = -(a[0] * b[0] + a[1] * b[1] + a[2] * b[2]);
    return std::acos(std::fmin(1.0, cosine)) / degree;
}

TEST(Geometry, SlopesLieFlushOrLeaveSixteenDegrees)
{
    Family const family{Family::Key::mpo12, 1, 12};
    for (KeyRelation const keys : {KeyRelation::opposed, KeyRelation::aligned}) {
        for (int const first : {1, -1}) {
            for (int const second : {1, -1}) {
                double const angle = wedge(first, second, keys);
                bool const flush = angle < 1e-5;
                EXPECT_TRUE(flush || std::fabs(angle - 16) < 1e-9) << angle;
                ConnectorEnd a{family,
                               all_positions(family),
                               Pins::pinned,
                               Face::angled,
                               first > 0 ? Slope::down : Slope::up,
                               EndKind::plug};
                ConnectorEnd b{family,
                               all_positions(family),
                               Pins::unpinned,
                               Face::angled,
                               second > 0 ? Slope::down : Slope::up,
                               EndKind::plug};
                EXPECT_EQ(mate(a, b, keys).ok(), flush) << name_of(keys) << first << second;
            }
        }
    }
}

TEST(Geometry, OneRowAgainstTwoRowsTouchesNowhere)
{
    for (int p = 1; p <= 12; ++p) {
        Vector const at = transposed(facing(KeyRelation::opposed)) * fibre(1, 12, p);
        EXPECT_EQ(fibre_at(2, 12, at), 0);
    }
}

} // namespace geometry_test
} // namespace guidepin::plant
