// SPDX-License-Identifier: Apache-2.0
// Oracle: Malitson, J. Opt. Soc. Am. 55 (1965) 1205 (silica), worked with an independent program. Tolerance:
// half a unit of the last printed place.
#include "loss/fibre.hpp"

#include <gtest/gtest.h>

namespace guidepin::loss {
namespace fibre_test {

TEST(Fibre, IndexOfSilica)
{
    struct Row
    {
        double wavelength, n;
    };
    for (auto const& row : std::vector<Row>{
             {.85, 1.452498}, {1.3, 1.446918}, {1.31, 1.446804}, {1.55, 1.444024}, {1.625, 1.443112}})
        EXPECT_NEAR(silica().index(row.wavelength), row.n, 5.1e-7) << row.wavelength;
}

} // namespace fibre_test
} // namespace guidepin::loss
