// SPDX-License-Identifier: Apache-2.0
#include "loss/fibre.hpp"

#include <cmath>

namespace guidepin::loss {

double Sellmeier::index(double wavelength) const
{
    double const square = wavelength * wavelength;
    double sum = 1;
    for (std::size_t j = 0; j < 3; ++j)
        sum += strength[j] * square / (square - resonance_um[j] * resonance_um[j]);
    return std::sqrt(sum);
}

Sellmeier silica()
{
    return {{0.6961663, 0.4079426, 0.8974794}, {0.0684043, 0.1162414, 9.896161}};
}

} // namespace guidepin::loss
