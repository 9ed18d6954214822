// SPDX-License-Identifier: Apache-2.0
#include "loss/random.hpp"

#include "loss/distribution.hpp"

#include <bit>
#include <cmath>

namespace guidepin::loss {

Random::Random(std::uint64_t seed)
{
    for (auto& word : state_) {
        seed += 0x9e3779b97f4a7c15ULL;
        std::uint64_t z = seed;
        z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9ULL;
        z = (z ^ (z >> 27)) * 0x94d049bb133111ebULL;
        word = z ^ (z >> 31);
    }
}

std::uint64_t Random::bits()
{
    std::uint64_t const result = std::rotl(state_[1] * 5, 7) * 9;
    std::uint64_t const shifted = state_[1] << 17;
    state_[2] ^= state_[0];
    state_[3] ^= state_[1];
    state_[1] ^= state_[2];
    state_[0] ^= state_[3];
    state_[2] ^= shifted;
    state_[3] = std::rotl(state_[3], 45);
    return result;
}

double Random::uniform()
{
    return (static_cast<double>(bits() >> 12) + 0.5) * 0x1p-52;
}

double Random::normal()
{
    return normal_quantile(uniform());
}

double Random::gamma(double shape)
{
    // Below 1 the method needs a larger shape first (same paper, section 6).
    if (shape < 1) return gamma(shape + 1) * std::pow(uniform(), 1 / shape);
    double const d = shape - 1.0 / 3;
    double const c = 1 / std::sqrt(9 * d);
    for (;;) {
        double const x = normal();
        double const t = 1 + c * x;
        if (t <= 0) continue;
        double const v = t * t * t;
        if (std::log(uniform()) < 0.5 * x * x + d - d * v + d * std::log(v)) return d * v;
    }
}

std::uint64_t Random::whole(std::uint64_t below)
{
    std::uint64_t const fair = below * (~std::uint64_t{0} / below);
    for (;;) {
        std::uint64_t const draw = bits();
        if (draw < fair) return draw % below;
    }
}

} // namespace guidepin::loss
